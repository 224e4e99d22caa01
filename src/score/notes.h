/* notes.h: how a written note changes. What is set here is marked, and written by musicxml. */
#ifndef SCORE_NOTES_H
#define SCORE_NOTES_H

#include "score/plan.h"

/* Gives a note another pitch, or back its old one. */
void muta_note_set_pitch(muta_note *note, muta_pitch pitch);
/* Shows a sign before it, or none. */
void muta_note_set_sign(muta_note *note, muta_sign sign);
/* Turns its stem. */
void muta_note_set_stem(muta_note *note, muta_stem stem);
/* Ends the tie into the part's note of this index. */
void muta_note_part_tie(muta_part *part, uint32_t index);
/* Whether the note went on a tone before any pass, and whether it still does. */
bool muta_note_was_tied(const muta_note *note);
bool muta_note_is_tied(const muta_note *note);
/* A sounding pitch of the passage as the part writes it at a moment. */
muta_pitch muta_notes_written(const muta_passage *passage, muta_score *score, const muta_part *part,
                              muta_moment at, muta_pitch sounding);
/*
 * Brings the passage's pitches, keys and chord symbols into the written score. Signatures changed
 * from `keys_from` up to `keys_to`; nowhere when these are equal. With a `plan`, which may be
 * NULL, what is written anew is left to that.
 */
muta_status muta_notes_splice(const muta_plan *plan, const muta_passage *passage, muta_score *score,
                              muta_moment *keys_from, muta_moment *keys_to,
                              muta_diags *diags) MUTA_CHECK;

#endif
