/**
 * pitch.h: spelled pitch, intervals and keys. Alterations and sizes are in millicents (thousandths
 * of a cent): 100,000 to the equal semitone. Threads: any.
 */
#ifndef MUTANZA_PITCH_H
#define MUTANZA_PITCH_H

#include "mutanza/status.h"
#include <stdbool.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#define MUTA_SEMITONE 100000 /**< millicents */

/** A place on the diatonic line and what is added to its natural tone. */
typedef struct muta_pitch {
    int32_t place; /**< octave × 7 + step, C = 0; middle C is 28 */
    int32_t alter; /**< millicents: 100,000 is a sharp */
} muta_pitch;

/** A number of steps and a size; descending ones are negative in both. */
typedef struct muta_interval {
    int32_t steps; /**< a second is 1 */
    int32_t size;  /**< millicents: a major second is 200,000 */
} muta_interval;

typedef enum {
    MUTA_MAJOR,
    MUTA_MINOR,
    MUTA_IONIAN,
    MUTA_DORIAN,
    MUTA_PHRYGIAN,
    MUTA_LYDIAN,
    MUTA_MIXOLYDIAN,
    MUTA_AEOLIAN,
    MUTA_LOCRIAN,
} muta_mode;

/** A signature with its mode: sharps above 0, flats below. */
typedef struct muta_key {
    int32_t fifths;
    muta_mode mode;
} muta_key;

/** 0 to 6 for C to B. */
MUTA_API int muta_pitch_step(muta_pitch pitch);
/** The octave number; middle C begins octave 4. */
MUTA_API int muta_pitch_octave(muta_pitch pitch);
/** How it sounds: millicents above C0 in equal temperament. */
MUTA_API int32_t muta_pitch_sound(muta_pitch pitch);
/** The same in semitones above C0, finer parts cut off. */
MUTA_API int muta_pitch_semitones(muta_pitch pitch);
/** The whole semitones that its spelling shows, half ones going toward natural. */
MUTA_API int muta_pitch_sharps(muta_pitch pitch);
/** The pitch an interval above (below, when it descends): spelled by the interval's steps. */
MUTA_API muta_pitch muta_pitch_add(muta_pitch pitch, muta_interval by);
/** The interval from one pitch to another. */
MUTA_API muta_interval muta_pitch_between(muta_pitch from, muta_pitch to);
/**
 * The same sound on the next step up (direction 1) or down (-1): C sharp becomes D flat.
 */
MUTA_API muta_pitch muta_pitch_respelled(muta_pitch pitch, int direction);
/**
 * The pitch of this sound (millicents above C0) that is spelled nearest to a key on the line of
 * fifths. Source: common practice.
 */
MUTA_API muta_pitch muta_pitch_of_sound(int32_t sound, int32_t fifths);
/** How far a pitch lies on the line of fifths from the middle of a key's scale: its second step. */
MUTA_API int32_t muta_pitch_distance(muta_pitch pitch, int32_t fifths);
/** Two spellings of one pitch are equal only if both fields are. */
MUTA_API bool muta_pitch_is_equal(muta_pitch a, muta_pitch b);

#define MUTA_PITCH_TEXT 24
/** Prints `Bb3`, `F##5`. @param text [out] MUTA_PITCH_TEXT bytes. */
MUTA_API const char *muta_pitch_print(muta_pitch pitch, char *text);
/**
 * Reads `A4`, `Bb3`, `F#5`, `Cx4`, `Ebb2`: middle C is C4, octaves 0 to 9.
 * @param pitch [out] untouched on failure
 * @return MUTA_OK, or MUTA_E_RANGE when it is no pitch
 */
MUTA_API muta_status muta_pitch_parse(const char *text, muta_pitch *pitch) MUTA_CHECK;

/** The interval the other way. */
MUTA_API muta_interval muta_interval_negate(muta_interval interval);
/**
 * Reads `m3`, `P5`, `-M2`, `A4`, `dd5`: a direction, a quality, a number.
 * @param interval [out] untouched on failure
 * @return MUTA_OK, or MUTA_E_RANGE when it is no interval (as `P3` or `M5`), or is above 70 steps
 */
MUTA_API muta_status muta_interval_parse(const char *text, muta_interval *interval) MUTA_CHECK;
/** Prints it as muta_interval_parse reads it; `?` for a size that has no name. */
MUTA_API const char *muta_interval_print(muta_interval interval, char *text);
/** How far the interval moves a signature: a fifth 1, a major second 2, a minor second -5. */
MUTA_API int32_t muta_interval_fifths(muta_interval interval);

/** What the signature does to a step (0 to 6), in sharps: in D major 1 for F. */
MUTA_API int muta_key_sharps(int32_t fifths, int step);
/** The tonic, in octave 4. */
MUTA_API muta_pitch muta_key_tonic(muta_key key);
/**
 * Reads `G`, `e` (a small letter is minor), `Bb`, `G:dorian`.
 * @param key [out] untouched on failure
 * @return MUTA_OK, or MUTA_E_RANGE when it is no key, or has more than seven accidentals
 */
MUTA_API muta_status muta_key_parse(const char *text, muta_key *key) MUTA_CHECK;
/** Prints the tonic's name and the mode: `Bb major`. @param text [out] MUTA_KEY_TEXT bytes. */
#define MUTA_KEY_TEXT 32
MUTA_API const char *muta_key_print(muta_key key, char *text);
/** The mode of this name, as MusicXML writes it; false when there is none. */
MUTA_API bool muta_mode_parse(const char *text, muta_mode *mode);
/** The name of a mode, as MusicXML writes it. */
MUTA_API const char *muta_mode_name(muta_mode mode);
/** The interval from tonic to tonic, the nearest way, up when both are equally near. */
MUTA_API muta_interval muta_key_between(muta_key from, muta_key to);

/**
 * Whether a step or leap of less than an octave is augmented: larger than major or perfect. A place
 * that is altered and stays is none.
 */
MUTA_API bool muta_pitch_is_augmented(muta_pitch from, muta_pitch to);

#ifdef __cplusplus
}
#endif

#endif
