"""A small film whose every picture says its own number."""

from fractions import Fraction

import av
import numpy as np
import pytest

WIDTH, HEIGHT, BITS = 128, 64, 12
RATE = Fraction(30000, 1001)
FRAMES = 360
BEEP_EVERY_S = 1


def picture(number):
    """The number in black and white columns, most significant first."""
    columns = [255 * (number >> (BITS - 1 - bit) & 1) for bit in range(BITS)]
    row = np.repeat(np.array(columns, dtype=np.uint8), WIDTH // BITS)
    row = np.pad(row, (0, WIDTH - len(row)))
    return np.repeat(np.tile(row, (HEIGHT, 1))[:, :, None], 3, axis=2)


def number_of(frame):
    """The number that a (compressed) picture says."""
    grey = frame.to_ndarray(format="gray")[:HEIGHT]
    step = WIDTH // BITS
    return sum(
        int(grey[:, step * bit + 2 : step * (bit + 1) - 2].mean() > 127) << (BITS - 1 - bit)
        for bit in range(BITS)
    )


def make_film(path, frames=FRAMES, rate=RATE, sound=True, missing=()):
    """A film with a key frame only every 100 pictures, and a click at each whole second."""
    with av.open(str(path), "w") as out:
        video = out.add_stream("libx264", rate=rate, options={"g": "100", "crf": "18", "preset": "ultrafast"})
        video.width, video.height, video.pix_fmt = WIDTH, HEIGHT, "yuv420p"
        video.codec_context.time_base = 1 / rate
        audio = out.add_stream("aac", rate=48000, layout="stereo") if sound else None
        for number in range(frames):
            if number in missing:
                continue
            frame = av.VideoFrame.from_ndarray(picture(number), format="rgb24")
            frame.pts, frame.time_base = number, 1 / rate
            out.mux(video.encode(frame))
        out.mux(video.encode(None))
        if audio is not None:
            samples = np.zeros((2, int(frames / rate * 48000)), dtype=np.float32)
            for second in range(0, samples.shape[1], 48000 * BEEP_EVERY_S):
                samples[:, second : second + 240] = 0.8
            for at in range(0, samples.shape[1], 1024):
                piece = av.AudioFrame.from_ndarray(
                    np.ascontiguousarray(samples[:, at : at + 1024]), "fltp", "stereo"
                )
                piece.sample_rate, piece.pts, piece.time_base = 48000, at, Fraction(1, 48000)
                out.mux(audio.encode(piece))
            out.mux(audio.encode(None))
    return path


@pytest.fixture(scope="session")
def film(tmp_path_factory):
    return make_film(tmp_path_factory.mktemp("film") / "game one.mp4")
