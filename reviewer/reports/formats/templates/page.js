"use strict";
(() => {
  const words = (button) => document.getElementById(button.getAttribute("aria-controls"));
  const set = (button, open) => {
    words(button).hidden = !open;
    button.setAttribute("aria-expanded", String(open));
  };
  const openers = [...document.querySelectorAll("button.open")];
  openers.forEach((button) =>
    button.addEventListener("click", () => set(button, button.getAttribute("aria-expanded") !== "true")));
  document.querySelectorAll("button.every").forEach((button) =>
    button.addEventListener("click", () => {
      const open = button.dataset.open !== "true";
      button.dataset.open = String(open);
      button.textContent = open ? "Close all words" : "Open all words";
      button.closest("section").querySelectorAll("button.open").forEach((one) => set(one, open));
    }));

  const bar = document.getElementById("player");
  if (!bar) return;
  const audio = bar.querySelector("audio");
  const label = bar.querySelector("span");
  let now = null;
  let end = Infinity;
  const stop = () => { audio.pause(); if (now) { now.classList.remove("on"); now.textContent = "▶ play"; } now = null; };
  const start = (button) => {
    stop();
    const source = button.dataset.src;
    const from = Number(button.dataset.start);
    end = Number(button.dataset.end);
    now = button;
    button.classList.add("on");
    button.textContent = "■ stop";
    bar.hidden = false;
    label.textContent = button.dataset.label;
    const go = () => { audio.currentTime = from; audio.play().catch(() => missing(source)); };
    if (audio.dataset.src === source && audio.readyState > 0) { go(); return; }
    audio.dataset.src = source;
    audio.src = source;
    audio.addEventListener("loadedmetadata", go, { once: true });
    audio.load();
  };
  const missing = (source) => { stop(); label.textContent = `The recording ${source} is not beside this page.`; };
  audio.addEventListener("timeupdate", () => { if (now && audio.currentTime >= end) stop(); });
  audio.addEventListener("error", () => { if (audio.dataset.src) missing(audio.dataset.src); });
  document.querySelectorAll("button.play").forEach((button) =>
    button.addEventListener("click", () => (button === now ? stop() : start(button))));
})();
