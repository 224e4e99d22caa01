/**
 * passage.h: what is meant by a stretch of a score: lines of events on an exact time axis, at
 * sounding pitch, without bars, ties or beams. Passes read one and fill another.
 */
#ifndef MUTANZA_PASSAGE_H
#define MUTANZA_PASSAGE_H

#include "mutanza/score.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Owner: whoever lifted or made it. Borrows: the score it was lifted from. */
typedef struct muta_passage muta_passage;

/** No written note: of an event that bears no syllable, and of what a pass put in from nothing. */
#define MUTA_NO_SOURCE UINT32_MAX

/** One sounding tone. A tone keeps its id through `muta_passage_append`'s first copy of it. */
typedef struct muta_tone {
    muta_pitch pitch;       /**< as it sounds; of percussion its place on the staff */
    muta_fraction duration; /**< in quarters; 0 in a grace note */
    uint32_t id;            /**< from 1, unique in its passage */
    uint32_t origin;        /**< the id of the tone it came from in the passage first read, or 0 */
    uint32_t line;          /**< index of its line */
    uint32_t event;         /**< index of its event */
    uint32_t source;        /**< for splicing: the first written note, by index in its part, or
                               MUTA_NO_SOURCE */
    uint32_t source_count;  /**< of tied notes that it was merged from */
    bool is_fixed;          /**< percussion: never moved in pitch */
    bool is_tune;           /**< it is the tune's, once study was asked */
    bool is_bass;           /**< it is the bass's */
    bool is_companion;      /**< it goes with the tune, in octaves, thirds or sixths */
    bool is_pitch_changed;  /**< a pass moved it away from where it was */
} muta_tone;

/** What splicing has to know of an event: it is copied along with it, and not for callers. */
typedef struct muta_written {
    uint32_t source;    /**< the written note that bears its marks, or MUTA_NO_SOURCE */
    uint32_t syllable;  /**< the written note whose words it bears, or MUTA_NO_SOURCE */
    uint32_t joined;    /**< the last written note whose words it bears too, all from `syllable`
                           on together, or MUTA_NO_SOURCE */
    uint32_t statement; /**< index into the passage's time map: which copy it belongs to */
    bool is_wordless;   /**< before the first syllable: it shares none */
    bool is_mirrored;   /**< time runs backwards: what began a slur ends it */
    bool is_inverted;   /**< pitch is upside down: what turned up turns down */
    bool has_before;    /**< a piece of a tone that another piece begins: that has its attack */
    bool has_behind;    /**< another piece goes on with the tone: the last has its end */
    bool drops_sign;    /**< the ornament's sign that is written is written out now */
    int8_t stem;        /**< of one made of nothing: 1 up, -1 down, 0 as it falls out */
    int8_t above;       /**< by how many semitones its upper neighbour is away from the signature */
    int8_t below;       /**< the same of its lower neighbour */
    uint8_t grace;      /**< of a grace note that a pass put in: a muta_grace */
    uint8_t ornament;   /**< a sign that a pass put on: a muta_ornament, from theory/ornament.h */
} muta_written;

/** One attack on one stem; its tones rise. */
typedef struct muta_event {
    muta_fraction onset;    /**< in quarters from the start of the passage */
    muta_fraction duration; /**< of its longest tone */
    uint32_t tone;          /**< index of its first tone */
    uint32_t tone_count;
    uint8_t staff; /**< from 1 */
    bool is_grace;
    bool is_after; /**< a grace note that belongs to what sounds before it */
    bool is_cue;
    bool is_hidden;
    bool leans;      /**< a foreign tone in a strong place, which the next one resolves */
    bool closes;     /**< the last of a phrase */
    uint8_t depth;   /**< how far the reduction to the skeleton keeps it, once study was asked */
    uint8_t level;   /**< how strong its moment is in the bar: 0 the down-beat */
    uint16_t phrase; /**< which phrase it is in, from 0 */
    muta_written written;
} muta_event;

/** How a grace note looks. */
typedef enum {
    MUTA_GRACE_WRITTEN, /**< as it stands in the score */
    MUTA_GRACE_SHORT,   /**< small, with a stroke through its stem */
    MUTA_GRACE_LONG,    /**< small, without */
} muta_grace;

/** A part of a tone's time with a pitch of its own, or a grace note that goes with it. */
typedef struct muta_piece {
    muta_fraction onset;
    muta_fraction duration; /**< 0 in a grace note */
    muta_pitch pitch;       /**< as it sounds */
    muta_grace grace;
} muta_piece;

/** What one voice does: events in order that do not overlap. */
typedef struct muta_line {
    uint32_t part;
    uint32_t voice; /**< the voice that it goes back to, by index in its part */
    uint32_t event; /**< index of its first event */
    uint32_t event_count;
    uint8_t staff; /**< where its voice is at home */
    uint8_t layer; /**< of a voice that overlaps itself: 0, and 1 and so on for what overlaps */
    bool is_tune;  /**< it has the tune longest, once study was asked */
    bool is_bass;  /**< it has the bass longest */
    int8_t stem;   /**< which way the stems of what is put into it go */
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
/** What a pass works on when no address is given; muta_study_default listens, the region's own
 * default only counts. */
typedef enum {
    MUTA_EVERYTHING,
    MUTA_TUNE, /**< the tune, from line to line; without study the top line of the first part that
                  has pitches */
    MUTA_TUNE_IN_PARALLEL, /**< and the lines that go with it in octaves, thirds or sixths */
    MUTA_TUNE_TOGETHER,    /**< and the lines that strike with it all along */
    MUTA_FIRST_BAR,        /**< that line's first full bar */
    MUTA_MOTIF,            /**< the bar of that line, or two, that it says again most often */
} muta_default;

/** The region that stands for no address. @param region [out] the caller's */
MUTA_API muta_status muta_region_default(const muta_score *score, muta_default what,
                                         muta_region **region) MUTA_CHECK;
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
 * Borrows: the passage first read, from which `like` was made, for as long as it lives.
 */
MUTA_API muta_status muta_passage_new_like(const muta_passage *like,
                                           muta_passage **passage) MUTA_CHECK;
/** Ends it. Takes NULL. */
MUTA_API void muta_passage_free(muta_passage *passage);
/** What splicing did. */
typedef struct muta_change {
    size_t bars_added;
    size_t bars_removed;
    size_t tones_changed; /**< in pitch or time, or new */
    size_t tones_removed; /**< that are not stated any more */
    size_t marks_added;   /**< of playing techniques, and their ends */
} muta_change;

/**
 * Writes passages, which lie apart in time, back into their score: pitches, times, the bars that
 * these need, the signs that follow from them, and key signatures and chord symbols if they moved.
 * What did not change is not touched. The passages are of no use afterwards but to be freed.
 * @param change  [out] may be NULL
 * @return MUTA_OK, MUTA_E_MEMORY, or MUTA_E_DATA with its place for a tone outside octaves 0 to 9,
 *         a value under a 1024th, or bars that cannot be put in; then the score is good for nothing
 *         but to be freed
 */
MUTA_API muta_status muta_passages_splice(const muta_passage *const *passages, size_t count,
                                          muta_score *score, muta_change *change,
                                          muta_diags *diags) MUTA_CHECK;

/** The score that it was lifted from. Borrows: passage. */
MUTA_API const muta_score *muta_passage_score(const muta_passage *passage);
/** Whether a bar begins at a moment of it, as it was lifted. */
MUTA_API bool muta_passage_is_downbeat(const muta_passage *passage, muta_fraction time);
/** Whether an event of its work, which has not moved, begins in a region of its score.
 * @param event  below the event_count of its work */
MUTA_API bool muta_passage_is_in(const muta_passage *passage, size_t event,
                                 const muta_region *region);
/** Its length in quarters. */
MUTA_API muta_fraction muta_passage_length(const muta_passage *passage);
/** Its tones and events, to be changed in place; as many as muta_passage_work says. Borrows:
 * passage, until the next call that puts something into it. */
MUTA_API muta_tone *muta_passage_tones(muta_passage *passage);
MUTA_API muta_event *muta_passage_events(muta_passage *passage);
/** The lines that may be changed. Borrows: passage. */
MUTA_API muta_texture muta_passage_work(const muta_passage *passage);
/** What else sounds meanwhile, to be heard and not touched. Borrows: passage. */
MUTA_API muta_texture muta_passage_context(const muta_passage *passage);
/** The key at its start, as it sounds; false when no part says one. */
MUTA_API bool muta_passage_key(const muta_passage *passage, muta_key *key);
/** Whether chord symbols stand over it that did not move with its tones. */
MUTA_API bool muta_passage_leaves_chords(const muta_passage *passage);
/**
 * Brings a passage that a pass has filled into form: statements of one voice become one line, the
 * tones of an event rise.
 */
MUTA_API muta_status muta_passage_settle(muta_passage *passage) MUTA_CHECK;
/**
 * Whether a passage is what its header promises: times in order and inside it, ids unique, origins
 * known, the context as it was.
 * @param first  the passage first read
 * @param why    [out] what is wrong, or NULL
 */
MUTA_API bool muta_passage_is_sound(const muta_passage *passage, const muta_passage *first,
                                    const char **why);
/** How many stretches between the edges of repeats it has, and where the nth of them, from 0 and
 * below the count, lies. */
MUTA_API size_t muta_passage_stretch_count(const muta_passage *passage);
MUTA_API void muta_passage_stretch_at(const muta_passage *passage, size_t nth, muta_fraction *onset,
                                      muta_fraction *length);
/** The nth stretch, from 0, as a passage of its own. Borrows: what `passage` borrows. */
MUTA_API muta_status muta_passage_take_stretch(const muta_passage *passage, size_t nth,
                                               muta_passage **stretch) MUTA_CHECK;
/** Where the stretch ends that holds a moment: nothing sounds across. */
MUTA_API muta_fraction muta_passage_stretch_end(const muta_passage *passage, muta_fraction time);
/** Lets what is new in a stretch have ids that what was made of other stretches does not have. */
MUTA_API void muta_passage_number_behind(muta_passage *stretch, const muta_passage *made);
/** Puts a stretch, varied, behind what `passage`, which is fresh, holds already. */
MUTA_API muta_status muta_passage_add_stretch(muta_passage *passage, size_t nth,
                                              const muta_passage *stretch) MUTA_CHECK;

/**
 * Puts all that `from` holds into `to`, its start at `onset`.
 * @param tones  [out] the copies, to be moved on; good until the next append
 * @return MUTA_OK, MUTA_E_MEMORY or MUTA_E_RANGE
 */
MUTA_API muta_status muta_passage_append(muta_passage *to, const muta_passage *from,
                                         muta_fraction onset, muta_tones *tones) MUTA_CHECK;
/**
 * The same for a piece of it, from `start` to `end`: tones that sound across its end are cut there.
 * @param tones  [out] may be NULL
 */
MUTA_API muta_status muta_passage_append_part(muta_passage *to, const muta_passage *from,
                                              muta_fraction start, muta_fraction end,
                                              muta_fraction onset, muta_tones *tones) MUTA_CHECK;
/**
 * Makes `to`, which is fresh, as long as `from`, without lines: they are begun one by one and
 * filled event by event.
 */
MUTA_API muta_status muta_passage_begin(muta_passage *to, const muta_passage *from) MUTA_CHECK;
/** Begins a line like the one of this index of `from`, below the line_count of its work. */
MUTA_API muta_status muta_passage_begin_line(muta_passage *to, const muta_passage *from,
                                             size_t line) MUTA_CHECK;
/**
 * Puts an event of `from` at the end of the line that was begun last, at another place and of
 * another length if need be: each of its tones that is as long as the event lasts so long.
 * @param event  below the event_count of its work; `duration` is above 0 but in a grace note
 */
MUTA_API muta_status muta_passage_put_event(muta_passage *to, const muta_passage *from,
                                            size_t event, muta_fraction onset,
                                            muta_fraction duration) MUTA_CHECK;
/**
 * Puts pieces there, in order of time, in place of an event: its highest tone is divided into them,
 * the others begin and end with the first that lasts. The attack, with its marks and its syllable,
 * goes to the first that lasts, what belongs to the end to the last.
 */
MUTA_API muta_status muta_passage_put_pieces(muta_passage *to, const muta_passage *from,
                                             size_t event, const muta_piece *pieces,
                                             size_t count) MUTA_CHECK;
/**
 * The nth voice of a staff, from 0 up to how many there are, as lines name it: one that its part
 * has, or, one more than there are, a new one.
 * @param voice  [out] its index
 */
MUTA_API muta_status muta_passage_take_voice(muta_passage *passage, uint32_t part, uint8_t staff,
                                             uint32_t nth, uint32_t *voice) MUTA_CHECK;
/**
 * Begins a line that was not there, in a voice of its own or one that is there.
 * @param staff  from 1
 * @param nth    which voice of that staff, from 0; one more than there are is made
 */
MUTA_API muta_status muta_passage_begin_new_line(muta_passage *to, uint32_t part, uint8_t staff,
                                                 uint32_t nth) MUTA_CHECK;
/** Which way the stems of the line that was begun last go: 1 up, -1 down. */
MUTA_API void muta_passage_turn_stems(muta_passage *to, int8_t stem);
/**
 * Puts an event, made of nothing, at the end of the line that was begun last, not before the end of
 * what that holds.
 * @param pitches  as they sound, in any order
 */
MUTA_API muta_status muta_passage_put_new(muta_passage *to, muta_fraction onset,
                                          muta_fraction duration, const muta_pitch *pitches,
                                          size_t count) MUTA_CHECK;
/** Multiplies all times, from the passage's start. @param by above 0 */
MUTA_API muta_status muta_passage_scale(muta_passage *passage, muta_fraction by) MUTA_CHECK;
/**
 * Turns the passage: what ended with it begins it. Each tone keeps its length; grace notes stay
 * with what they belong to, and words are dealt anew in reading order.
 */
MUTA_API muta_status muta_passage_mirror(muta_passage *passage) MUTA_CHECK;
/** Gives an event of the work another place and length, not across its neighbours.
 * @param event  below its event_count */
MUTA_API muta_status muta_passage_set_time(muta_passage *passage, size_t event, muta_fraction onset,
                                           muta_fraction duration) MUTA_CHECK;
/**
 * Gives the tones of a line other places in its rhythm: the nth place gets the tones of the place
 * `by` further on, round the end, or, in reverse, those of the place as far from the end.
 * @param line  below the line_count of its work
 */
MUTA_API muta_status muta_passage_permute(muta_passage *passage, size_t line, int64_t by,
                                          bool reverse) MUTA_CHECK;
/** The same the other way: the tones stay in order and their lengths, with the rests, move. */
MUTA_API muta_status muta_passage_permute_rhythm(muta_passage *passage, size_t line, int64_t by,
                                                 bool reverse) MUTA_CHECK;
/** Adds to an event of the work, below its event_count, a tone `steps` in the key from its lowest
 * one that can move. */
MUTA_API muta_status muta_passage_add_tone(muta_passage *passage, size_t event,
                                           int32_t steps) MUTA_CHECK;
/**
 * Moves `count` lines of the work, together, by the octaves that bring most of their tones into the
 * range of their instruments, then near what their parts play elsewhere; the fewest octaves of
 * those that do equally well.
 * @param first  with `count` lines from it within the work
 * @param moved  [out] by how many octaves; below 0 downwards
 */
MUTA_API muta_status muta_passage_fold(muta_passage *passage, size_t first, size_t count,
                                       int64_t *moved) MUTA_CHECK;
/** Whether all its lines, moved by `times` an interval, stay in the range of their parts, as far as
 * they were in it. */
MUTA_API bool muta_passage_reaches(const muta_passage *passage, muta_interval by, int64_t times);
/** Where the nth bar, from 1 up, of the passage as it was lifted begins; its end behind the last.
 */
MUTA_API muta_fraction muta_passage_bar(const muta_passage *passage, int64_t nth);
/** Gives a tone another pitch, as it sounds; percussion stays. */
MUTA_API void muta_passage_set_pitch(muta_passage *passage, muta_tone *tone, muta_pitch pitch);
/**
 * Turns a tone over about `axis`. In the tonal kind within the scale of the signature in force: a
 * tone of that scale stays in it, an altered one keeps its alteration with the sign turned.
 */
MUTA_API void muta_passage_reflect(muta_passage *passage, muta_tone *tone, muta_pitch axis,
                                   muta_kind kind);
/** The signature in force at a tone's onset, in fifths as it sounds; 0 where none is said. */
MUTA_API int32_t muta_passage_fifths(const muta_passage *passage, const muta_tone *tone);
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

#ifdef __cplusplus
}
#endif

#endif
