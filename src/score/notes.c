/* notes.c: how a written note changes. */
#include "score/notes.h"

void muta_note_set_pitch(muta_note *note, muta_pitch pitch)
{
    note->changed |= MUTA_CHANGED_PITCH;
    note->pitch = pitch;
}

void muta_note_set_sign(muta_note *note, muta_sign sign)
{
    if (note->sign == sign)
        return;
    note->sign = (uint8_t)sign;
    note->changed |= MUTA_CHANGED_ACCIDENTAL;
}

void muta_note_set_stem(muta_note *note, muta_stem stem)
{
    note->stem = (uint8_t)stem;
    note->changed |= MUTA_CHANGED_STEM;
}

void muta_note_part_tie(muta_part *part, uint32_t index)
{
    muta_note *const to = &part->notes.at[index];
    muta_note *const from = &part->notes.at[to->tied_from];

    from->tied_to = MUTA_NO_NOTE;
    from->flags = (from->flags & ~(uint32_t)MUTA_NOTE_TIE_START) | MUTA_NOTE_CUT_START;
    from->changed |= MUTA_CHANGED_TIE;
    to->tied_from = MUTA_NO_NOTE;
    to->flags = (to->flags & ~(uint32_t)MUTA_NOTE_TIE_STOP) | MUTA_NOTE_CUT_STOP;
    to->changed |= MUTA_CHANGED_TIE;
}

bool muta_note_was_tied(const muta_note *note)
{
    return note->flags & (MUTA_NOTE_TIE_STOP | MUTA_NOTE_CUT_STOP);
}

bool muta_note_is_tied(const muta_note *note)
{
    return note->flags & MUTA_NOTE_TIE_STOP;
}
