/**
 * passage.h: what is meant by a stretch of a score: lines of events on an exact time axis, at
 * sounding pitch, without bars, ties or beams. Passes read one and fill another.
 */
#ifndef MUTANZA_PASSAGE_H
#define MUTANZA_PASSAGE_H

#include "mutanza/score.h"

/** Owner: whoever lifted or made it. Borrows: the score it was lifted from. */
typedef struct muta_passage muta_passage;

/** One sounding tone. A tone keeps its id through `muta_passage_append`'s first copy of it. */
typedef struct muta_tone {
    muta_pitch pitch;       /**< as it sounds; of percussion its place on the staff */
    muta_fraction duration; /**< in quarters; 0 in a grace note */
    uint32_t id;            /**< from 1, unique in its passage */
    uint32_t origin;        /**< the id of the tone it came from in the passage first read */
    uint32_t line;          /**< index of its line */
    uint32_t event;         /**< index of its event */
    uint32_t source;        /**< for splicing: the first written note, by index in its part */
    uint32_t source_count;  /**< of tied notes that it was merged from */
    bool is_fixed;          /**< percussion: never moved in pitch */
    bool is_pitch_changed;  /**< a pass moved it away from where it was */
} muta_tone;

/** One attack on one stem; its tones rise. */
typedef struct muta_event {
    muta_fraction onset;    /**< in quarters from the start of the passage */
    muta_fraction duration; /**< of its longest tone */
    uint32_t tone;          /**< index of its first tone */
    uint32_t tone_count;
    uint8_t staff; /**< from 1 */
    bool is_grace;
    bool is_cue;
    bool is_hidden;
} muta_event;

/** What one voice does: events in order that do not overlap. */
typedef struct muta_line {
    uint32_t part;
    uint32_t voice; /**< the voice that it goes back to, by index in its part */
    uint32_t event; /**< index of its first event */
    uint32_t event_count;
    uint8_t staff; /**< where its voice is at home */
} muta_line;

/** Lines with their events and tones, each in one run. */
typedef struct muta_texture {
    const muta_line *lines;
    size_t line_count;
    const muta_event *events;
    size_t event_count;
    const muta_tone *tones;
    size_t tone_count;
} muta_texture;

/** Tones that a call put into a passage, to be moved on. */
typedef struct muta_tones {
    muta_tone *at;
    size_t count;
} muta_tones;

/** How an interval is taken: as it is, or by its number of steps within the key. */
typedef enum {
    MUTA_REAL,
    MUTA_TONAL
} muta_kind;

/** What becomes of key signatures and chord symbols. */
typedef enum {
    MUTA_KEYS_AUTO, /**< they move when the passage is whole bars of all pitched parts */
    MUTA_KEYS_MOVE,
    MUTA_KEYS_STAY,
} muta_keys;

/** A stretch of a score: some of its parts, staves and voices, from a moment to a moment. */
typedef struct muta_region muta_region;

/**
 * Reads an address: `Clarinet:5-8`, `Piano/2:3.2-4.1+1/2`, `*`, `#3-#6`; several joined by commas.
 * @param text    NULL or "" is everything
 * @param region  [out] the caller's; untouched on failure
 * @return MUTA_OK, MUTA_E_USAGE for bad syntax, MUTA_E_DATA when this score has no such place
 */
MUTA_API muta_status muta_region_parse(const muta_score *score, const char *text,
                                       muta_region **region, muta_diags *diags) MUTA_CHECK;
/**
 * The nth stretch of a region whose addresses lie apart in time, as a region of its own; those that
 * share a moment are one.
 * @param part  [out] the caller's; NULL past the last
 */
MUTA_API muta_status muta_region_part(const muta_region *region, size_t nth,
                                      muta_region **part) MUTA_CHECK;
/** Ends it. Takes NULL. */
MUTA_API void muta_region_free(muta_region *region);
/** By how much what a part plays at the region's start sounds above what is written; the unison
 * too when the region does not reach the part. */
MUTA_API muta_interval muta_region_transposition(const muta_region *region, const muta_score *score,
                                                 size_t part);
/** What it covers, in words: `bars 5-8 of Clarinet`. @param room bytes at `text`, at least 64 */
MUTA_API const char *muta_region_print(const muta_score *score, const muta_region *region,
                                       char *text, size_t room);

/**
 * Lifts a region: the notes that begin in it, tied ones merged, at sounding pitch.
 * @param passage  [out] the caller's
 * @return MUTA_OK, MUTA_E_MEMORY, or MUTA_E_DATA when a bar could only be guessed
 */
MUTA_API muta_status muta_passage_lift(const muta_score *score, const muta_region *region,
                                       muta_passage **passage, muta_diags *diags) MUTA_CHECK;
/**
 * An empty passage for a pass to fill: of the same score, length, keys and context.
 * Borrows: like, for as long as it lives.
 */
MUTA_API muta_status muta_passage_new_like(const muta_passage *like,
                                           muta_passage **passage) MUTA_CHECK;
/** Ends it. Takes NULL. */
MUTA_API void muta_passage_free(muta_passage *passage);
/**
 * Writes the passage back into its score: pitches, the accidentals and stems that follow from
 * them, and key signatures and chord symbols if they moved. What did not change is not touched.
 * @return MUTA_OK, MUTA_E_MEMORY, or MUTA_E_DATA for a tone outside octaves 0 to 9, with its
 *         place; then the score is as it was
 */
MUTA_API muta_status muta_passage_splice(const muta_passage *passage, muta_score *score,
                                         muta_diags *diags) MUTA_CHECK;

/** Its length in quarters. */
MUTA_API muta_fraction muta_passage_length(const muta_passage *passage);
/** The lines that may be changed. Borrows: passage. */
MUTA_API muta_texture muta_passage_work(const muta_passage *passage);
/** What else sounds meanwhile, to be heard and not touched. Borrows: passage. */
MUTA_API muta_texture muta_passage_context(const muta_passage *passage);
/** The key at its start, as it sounds; false when no part says one. */
MUTA_API bool muta_passage_key(const muta_passage *passage, muta_key *key);
/** Whether chord symbols stand over it that did not move with its tones. */
MUTA_API bool muta_passage_leaves_chords(const muta_passage *passage);
/** How many tones a pass moved away from where they were. */
MUTA_API size_t muta_passage_changed_count(const muta_passage *passage);

/**
 * Puts all that `from` holds into `to`, its start at `onset`.
 * @param tones  [out] the copies, to be moved on; good until the next append
 * @return MUTA_OK, MUTA_E_MEMORY or MUTA_E_RANGE
 */
MUTA_API muta_status muta_passage_append(muta_passage *to, const muta_passage *from,
                                         muta_fraction onset, muta_tones *tones) MUTA_CHECK;
/**
 * Moves a tone by `times` an interval; percussion stays. In the tonal kind only the interval's
 * steps count, along the scale of the signature in force at the tone's onset: a tone of that scale
 * stays in it, any other keeps its alteration from its degree.
 */
MUTA_API muta_status muta_passage_move(muta_passage *passage, muta_tone *tone, muta_interval by,
                                       int64_t times, muta_kind kind) MUTA_CHECK;
/** Moves the passage's keys and chord symbols, as `keys` and what it covers tell. */
MUTA_API muta_status muta_passage_move_keys(muta_passage *passage, muta_interval by, muta_keys keys,
                                            muta_diags *diags) MUTA_CHECK;

#endif
