/* chord.h: what kinds of chords hold, by the names that MusicXML gives them. */
#ifndef THEORY_CHORD_H
#define THEORY_CHORD_H

#include "base/text.h"
#include "mutanza/chord.h"
#include <stddef.h>

enum {
    MUTA_CHORD_KINDS = MUTA_CHORD_FRENCH + 1,        /* that are heard */
    MUTA_CHORD_KNOWN = MUTA_CHORD_DOMINANT_13TH + 1, /* that are read and written */
    MUTA_CHORD_TONES = 4,                            /* of those that are heard */
    MUTA_CHORD_MOST = 5,                             /* of any */
};

typedef struct muta_chord_row {
    const char *name;
    const char *symbol;               /* behind its root, as lead sheets have it */
    uint8_t count;                    /* of its tones */
    int8_t fifths[MUTA_CHORD_MOST];   /* above the root on the line of fifths: root, third, ... */
    uint8_t classes[MUTA_CHORD_MOST]; /* the same in semitones */
} muta_chord_row;

/* What a kind holds. The sixths stand on the lowered sixth degree. */
const muta_chord_row *muta_chord_row_of(muta_chord_kind kind);
/* The kind that MusicXML calls so; false when it is not among them. */
bool muta_chord_find(const char *name, muta_chord_kind *kind);
/* Reads a chord symbol, `D7/F#`; false when it is none. A bass that is no tone of the chord is left
 * out. Source of the signs: common practice. */
bool muta_chord_parse(muta_text symbol, muta_chord *chord);
/* The kind whose tones these are, on the line of fifths from the root on; false when there is none
 * that is heard. */
bool muta_chord_kind_of(const int32_t *tones, size_t count, muta_chord_kind *kind);
/* The pitch class of so many semitones above a C, 0 to 11. */
int muta_semitones_class(int semitones);
/* The pitch class of a place on the line of fifths, C = 0. */
int muta_fifths_class(int32_t fifths);
/* The pitch of a place on the line of fifths that has this octave number. */
muta_pitch muta_fifths_pitch(int32_t fifths, int octave);
/* `b6`: a degree of the major scale with its sign, on the line of fifths above the tonic. */
int32_t muta_degree_fifths(muta_text degree);
/* Where a pitch stands on the line of fifths. */
int32_t muta_pitch_fifths(muta_pitch pitch);
/* Which tone of the kind stands so many semitones above the root, in whatever octave, from 0; -1
 * when none does. */
int muta_chord_tone(muta_chord_kind kind, int above);
enum {
    MUTA_NO_LEADING = 99
};

/*
 * The leading tone that a chord has, on the line of fifths: the third of a dominant, the root of a
 * diminished chord; MUTA_NO_LEADING for others. @param tonic  of its key
 */
int32_t muta_chord_leading(muta_chord_kind kind, int32_t root, int32_t tonic);
/* `F#` for a place on the line of fifths; `text` has at least MUTA_CLASS_TEXT bytes. */
enum {
    MUTA_CLASS_TEXT = 8
};
const char *muta_fifths_print(int32_t fifths, char *text);
/* Whether a chord is the dominant, or the leading tone's chord, of one whose root is so many
 * semitones above its own, from 0 to 11. Source: common practice. */
bool muta_chord_leads(muta_chord_kind kind, int up);
bool muta_chord_is_dominant(muta_chord_kind kind); /* a major third: it can lead to its fourth */
/* Whether the fourth tone of a chord is a seventh, which falls; in sixths it is none. */
bool muta_chord_has_seventh(muta_chord_kind kind);
bool muta_chord_is_diminished(muta_chord_kind kind); /* a leading tone for root */

#endif
