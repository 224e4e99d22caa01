/**
 * study.h: what an idea holds: its tune and bass, keys, metre, chords, phrases and skeleton.
 */
#ifndef MUTANZA_STUDY_H
#define MUTANZA_STUDY_H

#include "mutanza/chord.h"
#include "mutanza/passage.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef struct muta_study muta_study;

/** What is to be studied; NULL leaves the choice to the study. */
typedef struct muta_study_request {
    const muta_region *where; /**< the passage; NULL for everything */
    const char *tune;         /**< an address: the line that is the tune */
    const char *bass;         /**< an address: the line that is the bass */
} muta_study_request;

/**
 * Studies a score, or a passage of it.
 * @param request  NULL for everything, with the tune and the bass that it finds
 * @param study    [out] the caller's
 * @return MUTA_OK, MUTA_E_MEMORY, MUTA_E_USAGE or MUTA_E_DATA for an address that is none here, or
 * a bar that could only be guessed Borrows: score, for as long as the study lives.
 */
MUTA_API muta_status muta_study_new(const muta_score *score, const muta_study_request *request,
                                    muta_study **study, muta_diags *diags) MUTA_CHECK;
/** Ends it. Takes NULL. */
MUTA_API void muta_study_free(muta_study *study);
/**
 * Reads an address as muta_region_parse does, and those that listen as well: `tune` and `bass` for
 * a part (all stretches in which a line has them; a part of that name goes first), `p2` and `p1-p3`
 * for bars (phrases as the study counts them): `tune:p1-p3`, `*:p2`, `Piano:p1`.
 * @param region  [out] the caller's; untouched on failure
 * @return as muta_region_parse; MUTA_E_DATA too when a phrase is not there
 */
MUTA_API muta_status muta_study_region(const muta_score *score, const char *text,
                                       muta_region **region, muta_diags *diags) MUTA_CHECK;
/**
 * What a pass works on without an address: the line that has the tune longest, over its whole
 * length, its first full bar, or its best motif; everything for MUTA_EVERYTHING.
 * @param region  [out] the caller's
 * @return MUTA_OK or MUTA_E_MEMORY
 */
MUTA_API muta_status muta_study_default(const muta_score *score, muta_default what,
                                        muta_region **region) MUTA_CHECK;
/**
 * Says of each signature of a passage whether it is major or minor, as its score is heard, where
 * the file does not say.
 * @param study  of its whole score; NULL: it is heard for this
 */
MUTA_API muta_status muta_study_modes(muta_passage *passage, const muta_study *study) MUTA_CHECK;
/**
 * Lays what its score is heard to hold into a passage just lifted: chords and keys by time; of each
 * event how far the skeleton keeps it, how strong its moment is, and its phrase; of each tone
 * whether it is the tune's, a companion's of it, or the bass's. Where that cannot be heard the
 * passage stays without.
 * @param study  of its whole score; NULL: it is heard for this
 */
MUTA_API muta_status muta_study_lay(muta_passage *passage, const muta_study *study) MUTA_CHECK;
/**
 * The same from another passage, which study has been laid into, if both hold the same music; so
 * takes of one theme are heard once. Returns whether they do.
 * Borrows: known, for as long as `passage` lives.
 */
MUTA_API bool muta_study_lay_like(muta_passage *passage, const muta_passage *known);
/**
 * What a study tells, row by row. Times are in quarters from the start of what was studied; rows
 * are in order of time. Each getter takes the nth row from 0, below its count. Borrows: nothing.
 */

/** A stretch in one key. */
typedef struct muta_told_key {
    muta_fraction from;
    muta_fraction to;
    muta_key key;             /**< its signature, major or minor */
    muta_mode scale;          /**< the church mode of its tones, where that is not plain */
    muta_fraction confidence; /**< from 0 to 1: how often such a one is right */
} muta_told_key;

/** A stretch of one chord. */
typedef struct muta_told_chord {
    muta_fraction from;
    muta_fraction to;
    muta_chord value;
    int32_t tonic;   /**< of the key that it stands in, on the line of fifths */
    bool is_minor;   /**< that key */
    bool is_written; /**< as a chord symbol; else it was heard */
} muta_told_chord;

/** How a phrase ends. */
typedef enum {
    MUTA_CADENCE_NONE,
    MUTA_CADENCE_AUTHENTIC,
    MUTA_CADENCE_HALF,
    MUTA_CADENCE_PLAGAL,
    MUTA_CADENCE_DECEPTIVE,
} muta_cadence;

/** A phrase of the tune. */
typedef struct muta_told_phrase {
    muta_fraction from;
    muta_fraction to;
    muta_cadence cadence;
    char letter;    /**< `a`, `b` ...: which phrases are alike */
    uint8_t primes; /**< a' is a varied a */
    bool is_answer; /**< closes what the phrase before left open */
} muta_told_phrase;

/** A tone of the tune. */
typedef struct muta_told_tone {
    muta_fraction from;
    muta_fraction to;
    muta_pitch pitch; /**< as it sounds */
    size_t part;      /**< index of the part that has it */
    uint8_t depth; /**< how far the reduction keeps it: 0 it goes first; 1 chord tones, 2 those on
                      beats, 3 one a bar, 4 where phrases begin and end */
} muta_told_tone;

MUTA_API size_t muta_study_key_count(const muta_study *study);
MUTA_API muta_told_key muta_study_key(const muta_study *study, size_t nth);
/** The key that the whole is in; false when nothing was heard. @param key [out] */
MUTA_API bool muta_study_home(const muta_study *study, muta_key *key);
MUTA_API size_t muta_study_chord_count(const muta_study *study);
MUTA_API muta_told_chord muta_study_chord(const muta_study *study, size_t nth);
MUTA_API size_t muta_study_phrase_count(const muta_study *study);
MUTA_API muta_told_phrase muta_study_phrase(const muta_study *study, size_t nth);
/** The tones of the tune; those of depth d and more are its skeleton at that depth. */
MUTA_API size_t muta_study_tone_count(const muta_study *study);
MUTA_API muta_told_tone muta_study_tone(const muta_study *study, size_t nth);
/** Whether a written note, by index in its part, begins one of the last two tones of a phrase. */
MUTA_API bool muta_study_closes(const muta_study *study, uint32_t part, uint32_t note);
/**
 * A page for a person.
 * @param text  [out] terminated; the caller's, ended with free()
 */
MUTA_API muta_status muta_study_print(const muta_study *study, char **text) MUTA_CHECK;
/** The same as JSON; schemas/study.schema.json says how. @param text [out] the caller's */
MUTA_API muta_status muta_study_print_json(const muta_study *study, char **text) MUTA_CHECK;

#ifdef __cplusplus
}
#endif

#endif
