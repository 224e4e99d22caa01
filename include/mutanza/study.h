/**
 * study.h: what an idea holds: its tune and bass, keys, metre, chords, phrases and skeleton.
 */
#ifndef MUTANZA_STUDY_H
#define MUTANZA_STUDY_H

#include "mutanza/passage.h"

typedef struct muta_study muta_study;

/** What is to be studied; NULL leaves the choice to the study. */
typedef struct muta_study_request {
    const char *where; /**< an address: the passage; NULL for everything */
    const char *tune;  /**< an address: the line that is the tune */
    const char *bass;  /**< an address: the line that is the bass */
} muta_study_request;

/**
 * Studies a score, or a passage of it.
 * @param study  [out] the caller's
 * @return MUTA_OK, MUTA_E_MEMORY, MUTA_E_USAGE or MUTA_E_DATA for an address that is none here, or
 * a bar that could only be guessed Borrows: score, for as long as the study lives.
 */
MUTA_API muta_status muta_study_new(const muta_score *score, const muta_study_request *request,
                                    muta_study **study, muta_diags *diags) MUTA_CHECK;
/** Ends it. Takes NULL. */
MUTA_API void muta_study_free(muta_study *study);
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
 */
MUTA_API muta_status muta_study_modes(muta_passage *passage) MUTA_CHECK;
/**
 * Lays what its score is heard to hold into a passage just lifted: chords and keys by time; of each
 * event how far the skeleton keeps it, how strong its moment is, and its phrase. Where that cannot
 * be heard the passage stays without.
 */
MUTA_API muta_status muta_study_lay(muta_passage *passage) MUTA_CHECK;
/**
 * The same from another passage, which study has been laid into, if both hold the same music; so
 * takes of one theme are heard once. Returns whether they do.
 * Borrows: known, for as long as `passage` lives.
 */
MUTA_API bool muta_study_lay_like(muta_passage *passage, const muta_passage *known);
/** Whether a written note, by index in its part, begins one of the last two tones of a phrase. */
MUTA_API bool muta_study_closes(const muta_study *study, uint32_t part, uint32_t note);
/**
 * A page for a person.
 * @param text  [out] terminated; the caller's, ended with free()
 */
MUTA_API muta_status muta_study_print(const muta_study *study, char **text) MUTA_CHECK;
/** The same as JSON; schemas/study.schema.json says how. @param text [out] the caller's */
MUTA_API muta_status muta_study_print_json(const muta_study *study, char **text) MUTA_CHECK;

#endif
