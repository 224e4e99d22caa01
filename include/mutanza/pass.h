/**
 * pass.h: the passes, their keys, and a chain of them applied to a score. Each pass is a row; the
 * argument checking, the listing, the manual and the README's table are made from the rows.
 */
#ifndef MUTANZA_PASS_H
#define MUTANZA_PASS_H

#include "mutanza/passage.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef enum {
    MUTA_PARAM_INTERVAL, /**< muta_interval */
    MUTA_PARAM_KEY,      /**< muta_given_key */
    MUTA_PARAM_CHOICE,   /**< int: the index of the choice */
    MUTA_PARAM_ADDRESS,  /**< const char *: text for muta_region_parse */
    MUTA_PARAM_COUNT,    /**< int64_t, within `least` and `most` */
    MUTA_PARAM_RATIO,    /**< muta_fraction, above 0 */
    MUTA_PARAM_SHARE,    /**< muta_fraction, from 0 to 1 */
    MUTA_PARAM_RANGE,    /**< muta_given_range */
    MUTA_PARAM_AXIS,     /**< muta_axis */
    MUTA_PARAM_TEXT,     /**< const char *: checked by the pass */
    MUTA_PARAM_DURATION, /**< muta_fraction, in quarters, above 0 */
    MUTA_PARAM_NAME,     /**< const char *: the name of a row of `table` */
} muta_param_type;

/** From a count to a count, both included; one number alone stands for both. */
typedef struct muta_given_range {
    bool is_given;
    int64_t first;
    int64_t last;
} muta_given_range;

/** One of the choices, or a pitch. */
typedef struct muta_axis {
    bool is_pitch;
    int choice;
    muta_pitch pitch;
} muta_axis;

/** A key that may be left out. */
typedef struct muta_given_key {
    bool is_given;
    muta_key key;
} muta_given_key;

/** One key of a pass, as a person gives it. */
typedef struct muta_param {
    const char *name;
    muta_param_type type;
    const char *otherwise; /**< the default, as it would be typed; NULL: nothing is given */
    const char *help;
    const char *const *choices; /**< of a choice; ends with NULL */
    const char *table;          /**< of a name: its rows, as text */
    const char *instead_of;     /**< a key that may not be given beside this one, or NULL */
    size_t offset;              /**< into the pass's arguments */
    int64_t least;              /**< of a count */
    int64_t most;
    const char *unit; /**< of a count, in words; or NULL */
} muta_param;

/** What must be there for a pass to work on. */
typedef enum {
    MUTA_NEEDS_PITCH = 1 << 0,       /**< tones with pitch: percussion alone is nothing */
    MUTA_NEEDS_SHAPE = 1 << 1,       /**< a line of more than one pitch */
    MUTA_NEEDS_STUDY = 1 << 2,       /**< chords, phrases and the skeleton, laid into its passage */
    MUTA_NEEDS_INSTRUMENTS = 1 << 3, /**< parts whose instrument can do it; others are left out */
} muta_needs;

/** What a pass does to the music. */
typedef enum {
    MUTA_MOVES_KEYS = 1 << 0, /**< takes `keys=` */
    MUTA_MOVES_TIME = 1 << 1, /**< reorders, scales or repeats time: it runs stretch by stretch */
    MUTA_RESTATES = 1 << 2,   /**< says the music again: a pick-up alone is left as it is */
    MUTA_CHANGES_METRE = 1 << 3,  /**< gives bars another metre: no tone keeps its time */
    MUTA_CHANGES_LENGTH = 1 << 4, /**< takes `others=` */
    MUTA_DIVIDES_TONES = 1 << 5,  /**< it leaves alone, by itself, the events that keep= names */
    MUTA_KEEPS_CHORDS = 1 << 6,   /**< what it changes still goes with what else sounds */
    MUTA_BENDS_TUNE = 1 << 7,     /**< takes `accompaniment=`: the others may go along */
} muta_effect;

/** How a pass answers. */
typedef enum {
    MUTA_MAY_FIND_NOTHING = 1 << 0, /**< what suits it is sought, and there may be nothing */
    MUTA_HAS_NEXT_BEST = 1 << 1,    /**< takes `pick=`: the best answer, the second, the third */
    MUTA_USES_SEED = 1 << 2,        /**< its answer is one of several, and the seed picks it */
    MUTA_SELDOM_FITS = 1 << 3,      /**< what suits it is a place that many pieces have not */
} muta_answers;

typedef struct muta_call muta_call;

/** A row of the registry. */
typedef struct muta_pass {
    const char *name;
    const char *group;
    const char *summary; /**< one line */
    const char *keeps;   /**< what it leaves as it was, in one line */
    const muta_param *params;
    size_t param_count;
    size_t args_size;
    muta_default where; /**< what it works on when no address is given */
    /** How many bars from the first full one of the tune are asked for; NULL or 0: `where` holds.
     */
    int64_t (*bars)(const void *args);
    unsigned needs;                       /**< a set of muta_needs */
    unsigned effect;                      /**< a set of muta_effect */
    unsigned answer;                      /**< a set of muta_answers */
    bool (*needs_mode)(const void *args); /**< whether major or minor matters; NULL: never */
    /** Whether it writes into a part that is to be made first; NULL: never. */
    bool (*needs_part)(const void *args, const muta_passage *passage);
    muta_status (*run)(const muta_call *call);
} muta_pass;

/** How many passes there are, and the nth of them, from 0 and below the count, in the order of the
 * listing. */
MUTA_API size_t muta_pass_count(void);
MUTA_API const muta_pass *muta_pass_at(size_t nth);
/** The pass of this name; NULL when there is none. */
MUTA_API const muta_pass *muta_pass_find(const char *name);
/** The keys that every pass takes, or, as `keys`, every pass that moves keys: nth of them, NULL
 * past the last. */
MUTA_API const muta_param *muta_pass_common_param(const muta_pass *pass, size_t nth);
/** What a value of this type looks like: `m3`, `G or e`. Borrows: nothing. */
MUTA_API const char *muta_param_form(const muta_param *param);
/** The words that a choice or a name may be, as `rest, repeat, stretch`; empty for other types.
 * @param text  cut at `room` bytes */
MUTA_API const char *muta_param_words(const muta_param *param, char *text, size_t room);
/**
 * All passes, or only `pass`, as JSON: an array of {"name","group","summary","keeps",
 * "params":[{"name","type","default","help"}]}.
 * @param pass  NULL for all
 * @param text  [out] terminated; the caller's, ended with free()
 */
MUTA_API muta_status muta_pass_print_json(const muta_pass *pass, char **text) MUTA_CHECK;

/** A line of passes, parsed and checked. Owner: whoever parsed it. */
typedef struct muta_chain muta_chain;

/**
 * Parses `NAME key=value … | NAME …`; `then` may stand for `|`, and a value in double quotes may
 * hold blanks.
 * @param chain  [out] the caller's; untouched on failure
 * @return MUTA_OK, MUTA_E_MEMORY, or MUTA_E_USAGE with the nearest right word in `diags`
 */
MUTA_API muta_status muta_chain_parse(const char *text, muta_chain **chain,
                                      muta_diags *diags) MUTA_CHECK;
/** Ends it. Takes NULL. */
MUTA_API void muta_chain_free(muta_chain *chain);
/** The line as it is best typed again. Borrows: chain. */
MUTA_API const char *muta_chain_text(const muta_chain *chain);

/** What a chain did. */
typedef struct muta_outcome {
    size_t tones_changed;
    size_t tones_removed;
    size_t bars_added;
    size_t bars_removed;
    size_t marks_added;
    size_t tones_followed; /**< of the others, which go along with the tune */
    bool had_work;         /**< false: there was nothing to work on, and the score is as it was */
    char summary[800];     /**< `bars 5-8 of Clarinet: transpose by=M2, 23 tones changed` */
} muta_outcome;

/**
 * Applies a chain to a score: lifts, runs each pass on what the one before gave back, splices and
 * signs; stretches that lie apart in time one after another. After a failure the score is good for
 * nothing but to be freed; when there is nothing to work on it is as it was.
 * @param seed     of whatever is left to chance
 * @param outcome  [out] may be NULL
 * @return MUTA_OK, or what its first failing step returned
 */
MUTA_API muta_status muta_chain_run(const muta_chain *chain, muta_score *score, uint64_t seed,
                                    muta_outcome *outcome, muta_diags *diags) MUTA_CHECK;
/** Where the result of a chain goes. */
typedef enum {
    MUTA_IN_PLACE,
    MUTA_APPEND, /**< as a new section behind the last bar, all parts with it */
    MUTA_ONLY,   /**< that section alone */
    MUTA_BESIDE, /**< in a new part under the one it comes from, to sound together */
} muta_place_of_result;

typedef struct muta_setting {
    uint64_t seed;
    size_t takes; /**< how many answers, each with the next seed, one after another; from 1 to
                       MUTA_LIMIT_TAKES */
    muta_place_of_result to;
    bool no_heading; /**< a section gets no line that says what made it */
} muta_setting;

/** The same as muta_chain_run with a place for the result. */
MUTA_API muta_status muta_chain_run_as(const muta_chain *chain, muta_score *score,
                                       const muta_setting *setting, muta_outcome *outcome,
                                       muta_diags *diags) MUTA_CHECK;
/**
 * Runs the passes of a chain on a passage, without a score to write to.
 * @param out  [out] the caller's; borrows what `in` borrows
 */
MUTA_API muta_status muta_chain_apply(const muta_chain *chain, const muta_passage *in,
                                      uint64_t seed, muta_passage **out,
                                      muta_diags *diags) MUTA_CHECK;

#ifdef __cplusplus
}
#endif

#endif
