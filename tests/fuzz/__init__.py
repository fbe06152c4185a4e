"""Hostile input: the result, or one sentence of our own; never another error, never half of it.

`python -m tests.fuzz [TIMES] [SEED]` runs these tests with so many times the examples.

| attack | tested in |
| --- | --- |
| mutated captions and texts, absurd hours, huge lines | test_notes_in, speech/test_captions |
| mutated CSV and XLSX of rosters, games, plays | test_tables, intake/test_tables |
| XLSX bombs, entities, path tricks inside a workbook | test_tables |
| mutated vocabulary and scale TOML, absurd numbers | test_own_files, language/test_vocabulary |
| mutated saved JSON: season, transcripts, settings, marks | test_saved |
| typed search: FTS5 and SQL syntax, odd digits, surrogates | test_typed, store/test_search |
| mutated wav, flac, ogg, mp4; wild clocks and sizes | test_sound, speech/test_decode |
| damaged or foreign grade books in restore, links, paths | test_grade_books, store/test_upkeep |
| formulas in CSV, XLSX and Markdown cells | test_out, reports/test_formats |
| HTML and script in names, notes, words; VTT cues | test_out, reports/test_formats, speech/test_captions |
| pipes in Markdown, line breaks in EDL, OTIO, VTT | test_out, reports/cuts/test_lists |
| escape codes and markup in the terminal's output | test_out, test_cli_grade, review/test_plain |
| escape codes and markup on the screens | screens/test_room, review/test_views |
| damaged, forged and swapped model files | test_models, speech/test_models |
| licences, hashes and versions of what is built in | test_supply |
"""
