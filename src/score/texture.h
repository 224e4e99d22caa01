/* texture.h: the passage as the rooms of the score see it. */
#ifndef SCORE_TEXTURE_H
#define SCORE_TEXTURE_H

#include "score/region.h"
#include "theory/chord.h"
#include "theory/instrument.h"
#include "theory/scale.h"

/* Lines with their events and tones, growing. */
typedef struct muta_weave {
    MUTA_VEC(muta_line) lines;
    MUTA_VEC(muta_event) events;
    MUTA_VEC(muta_tone) tones;
} muta_weave;

/* A signature in force from a moment of the passage on, for one staff of a part or for all. */
typedef struct muta_passage_key_entry {
    uint32_t part;
    uint8_t staff;
    muta_fraction onset;
    muta_key key; /* as it sounds; of a signature of single steps, 0 fifths */
    bool is_mode_told;
    bool is_disputed; /* parts tell different modes of it */
    int32_t recast;   /* by how many fifths a pass gave it another mode */
    muta_mode recast_to;
} muta_passage_key_entry;

/* What lies between two edges of repeats, endings and jumps; one, where there are none inside. */
typedef struct muta_stretch {
    muta_moment from;
    muta_moment to;
    muta_fraction onset; /* in the passage as it is */
    muta_fraction length;
} muta_stretch;

/*
 * A row of the time map: where a piece of the passage first read is stated now. Directions, chord
 * symbols and time spans follow it.
 */
typedef struct muta_statement {
    muta_fraction from; /* in the passage first read */
    muta_fraction to;
    muta_fraction at;    /* in the passage as it is */
    muta_fraction scale; /* above 0 */
    bool is_mirrored;
    bool is_tonal;       /* what moved it keeps to the key */
    muta_interval moved; /* by how far it is stated higher, so that chord symbols go along */
    uint32_t run;        /* the first of the statements that are one, once the passage is settled */
} muta_statement;

enum {
    MUTA_NO_BAR = 0xffffffff,
    MUTA_GRID_BARS = 200000 /* more than that many are refused */
};

/* A bar of a passage as it is now. */
typedef struct muta_grid_bar {
    muta_fraction start; /* in the passage; below 0 when the passage begins inside it */
    muta_fraction length;
    muta_fraction lead; /* what is missing before it: of a pick-up, or of a bar that is split */
    uint32_t like;      /* the bar of the score whose metre it has */
    uint32_t old;       /* the bar of the score that it is; MUTA_NO_BAR: it is put in */
} muta_grid_bar;

/* No part was made. */
#define MUTA_NO_PART UINT32_MAX

/* A voice that its part did not have. */
typedef struct muta_new_voice {
    uint32_t part;
    uint8_t staff;
} muta_new_voice;

/* A technique that a part plays with for a while. */
typedef struct muta_playing {
    uint32_t part;
    muta_fraction from;
    muta_fraction to; /* invalid: to the passage's end */
    muta_technique technique;
} muta_playing;

enum {
    MUTA_NUMERAL_TEXT = 24
};

/* A chord that sounds, or is written, over a while of the passage first read. */
typedef struct muta_passage_chord {
    muta_fraction from;
    muta_fraction to;
    muta_chord value;
    int32_t tonic;   /* of its key, on the line of fifths */
    bool is_minor;   /* its key */
    bool is_sure;    /* its key was heard as surely as a signature tells one */
    bool is_written; /* as a symbol, which stays as it is */
    char numeral[MUTA_NUMERAL_TEXT];
} muta_passage_chord;

/* What a passage says of its chords when it is spliced. */
typedef enum {
    MUTA_SAYS_SYMBOLS = 1, /* those that are written, and not among its chords, are taken off */
    MUTA_SAYS_NUMERALS = 2,
} muta_says;

struct muta_passage {
    muta_arena arena;
    const muta_score *score;
    muta_moment from;
    muta_moment to;
    muta_fraction length;
    bool is_whole_bars;
    bool is_whole_parts; /* no tone of a part that it reaches is left out */
    bool is_everything;  /* whole bars of all pitched parts */
    bool keys_moved;
    bool keys_recast; /* signatures got other modes on their tonics */
    muta_scale scale; /* that they were re-cast into */
    bool is_remetred; /* its bars have another metre, this one: */
    muta_metre metre;
    bool is_tail;          /* what stands behind a cut: it moves with all its staves hold */
    bool is_forced;        /* for tests: every tone is written anew, wherever it stands */
    muta_fraction slower;  /* how many times as long its values are at the same tempo marks */
    muta_fraction faster;  /* by how much the figures of its tempo marks are scaled */
    muta_interval keys_by; /* what passes added to the keys and chord symbols */
    muta_weave work;
    const muta_weave *context; /* its own, or of the passage that it was made like */
    const muta_weave *first;   /* the work of the passage first read, the same way */
    muta_weave own_context;
    MUTA_VEC(muta_passage_key_entry) keys;
    MUTA_VEC(muta_stretch) stretches;
    MUTA_VEC(muta_statement) map;
    MUTA_VEC(muta_grid_bar) grid; /* its bars, laid when it is lifted or settled */
    bool is_regridded;            /* they are others than those of the score */
    MUTA_VEC(muta_playing) playing;
    uint32_t made_part;               /* that was made for what a pass adds, or MUTA_NO_PART */
    MUTA_VEC(muta_new_voice) voices;  /* behind those of the score, in order, part by part */
    const muta_passage_chord *chords; /* of the passage first read; NULL until study was asked */
    size_t chord_count;
    bool has_own_chords; /* a pass set them: their times are those of the passage as it is */
    bool keeps_chords;   /* they are its own copy, times as they were */
    uint8_t says;        /* of muta_says */
    uint32_t next_id;
};

/* The chord at a moment of the passage as it is now; NULL when none is known. Borrows: the passage
 * first read. */
const muta_passage_chord *muta_passage_chord_at(const muta_passage *passage, muta_fraction time);
/* Whether any of the chords is written as a symbol. */
bool muta_passage_has_symbols(const muta_passage *passage);
/* Whether a line lies as basses do. */
bool muta_lies_low(const muta_texture *work, const muta_line *line);
/* The only line that sounds in a whole score, a tone at a time and without chords that somebody
 * wrote or a pass set; NULL when there is none. */
const muta_line *muta_line_alone(const muta_passage *in);
/*
 * The chords of the passage as it is, in order of its time, clipped to it.
 * @param chords  [out] in the arena
 */
muta_status muta_passage_list_chords(const muta_passage *passage, muta_arena *arena,
                                     muta_passage_chord **chords, size_t *count) MUTA_CHECK;
/* A copy of its chords, to be changed in place; their times stay what they are.
 * @param chords  [out] the passage's */
muta_status muta_passage_own_chords(muta_passage *passage, muta_passage_chord **chords) MUTA_CHECK;
/* The key in force at a moment, as it sounds; false when no part says one. */
bool muta_passage_key_in_force(const muta_passage *passage, muta_fraction time, muta_key *key);
/* Gives the passage chords of its own, in order of its time as it is; they are copied. */
muta_status muta_passage_set_chords(muta_passage *passage, const muta_passage_chord *chords,
                                    size_t count) MUTA_CHECK;
/* The signature in force for a tone's part and staff at a moment, in fifths as it sounds. */
int32_t muta_passage_fifths_at(const muta_passage *passage, const muta_tone *tone,
                               muta_fraction time);

/* The note that bears an event's marks; of one made of nothing a blank one. Borrows: the score. */
const muta_note *muta_passage_note(const muta_passage *passage, size_t event);

/* The flags (of muta_note_flag) of a written note and of those tied to it, in one. */
uint32_t muta_part_tied_flags(const muta_part *part, uint32_t note);
/* Whether an event is a tone that lasts and can move: no grace note, no cue, no percussion. */
bool muta_texture_is_plain(const muta_texture *work, uint32_t index);
/* The line that has the tune longest, and the bass; NULL when none has. Borrows: work. */
const muta_line *muta_texture_tune(const muta_texture *work);
const muta_line *muta_texture_bass(const muta_texture *work);
/* Whether a line of the work is a singer's: it has words, or a voice for its instrument. */
bool muta_passage_is_sung(const muta_passage *passage, const muta_line *line);
/* Of a line's `events`, the first that does not begin before a moment; the line's end when all do.
 */
uint32_t muta_line_first_from(const muta_event *events, const muta_line *line, muta_fraction time);
/* The highest tone of an event. Borrows: work. */
const muta_tone *muta_texture_top(const muta_texture *work, uint32_t index);
/*
 * How the line of an event itself has a letter in the bar where that begins, in the tone nearest to
 * it, or else how another line has it while the event sounds; false when none has it.
 */
bool muta_passage_letter_at(const muta_passage *passage, uint32_t event, int step, int32_t *alter);
/* The lowest tone of a line that sounds at a moment, in semitones; false when none does. */
bool muta_line_sounding(const muta_texture *texture, const muta_line *line, muta_fraction at,
                        int32_t *sound);
/*
 * Whether a pitch, added to a line of the work for a while, stands against what another line has
 * then: a semitone apart in any octave, or its very tone. Source: common practice of figures.
 */
bool muta_passage_rubs(const muta_passage *passage, const muta_line *own, muta_fraction from,
                       muta_fraction to, muta_pitch pitch);
/* The event that a grace note of a line belongs to; any other event is its own. */
uint32_t muta_texture_main(const muta_texture *work, const muta_line *line, uint32_t index);

/* Makes room for as many events and tones as another passage has. */
muta_status muta_passage_make_room(muta_passage *passage, const muta_passage *like) MUTA_CHECK;

/* A piece of a passage that is stretched. */
typedef struct muta_warp {
    muta_fraction from;
    muta_fraction to;
    muta_fraction scale;
    muta_fraction at; /* where it begins, stretched: behind the piece before it */
} muta_warp;

/*
 * Puts all of a passage into a fresh one, its time stretched piece by piece; the pieces lie one
 * behind the other and cover it.
 */
muta_status muta_passage_warp(muta_passage *to, const muta_passage *from, const muta_warp *pieces,
                              size_t count) MUTA_CHECK;
/*
 * Says that all values of a passage are so many times as long as they were.
 * @param scales  whether the figures of tempo marks go along
 */
void muta_passage_slow(muta_passage *passage, muta_fraction by, bool scales);
/* Where a moment of a passage goes. */
muta_fraction muta_warp_place(const muta_warp *pieces, size_t count, muta_fraction time);

/*
 * Lays the bars of a passage as it is: those of the score; or, where all parts are in it and time
 * has moved, those that go with the music.
 */
muta_status muta_passage_lay_grid(muta_passage *passage) MUTA_CHECK;
/* Whether its bar lines may move: all parts are in it, in whole bars. */
bool muta_passage_has_own_grid(const muta_passage *passage);
/*
 * How much later the piece from `from` to `to` is stated again. As long as it lasts; but one that
 * begins with an upbeat has its first down-beat on a bar line again: the upbeat lies in the last
 * bar of the statement before, if nothing is struck there, or in the next.
 */
muta_fraction muta_passage_round(const muta_passage *passage, muta_fraction from, muta_fraction to);
/* The bar that holds a moment; behind the last there are others like it. */
muta_grid_bar muta_passage_bar_at(const muta_passage *passage, muta_fraction time);
/* Whether a bar is only the end of one: a pick-up, or what stands behind a line in mid-bar. */
bool muta_bar_is_end(const muta_score *score, uint32_t bar);
/* By how much a stretch is longer than it was; below 0 when it is shorter. */
muta_fraction muta_stretch_growth(const muta_score *score, const muta_stretch *stretch);

/* Where a moment lies in its bar. */
typedef struct muta_beat {
    muta_fraction bar;    /* where the bar begins, in the passage; of a pick-up, would begin */
    muta_fraction length; /* of the bar as it is */
    muta_fraction beat;   /* its length; in compound metres dotted */
    muta_fraction end;    /* of the bar, in the passage */
    bool is_compound;
    bool is_pickup; /* it is only the end of a bar */
} muta_beat;

void muta_passage_beat_at(const muta_passage *passage, muta_fraction time, muta_beat *beat);

/* Lets a part play with a technique. @param to  invalid: to the passage's end */
muta_status muta_passage_play(muta_passage *passage, uint32_t part, const muta_technique *technique,
                              muta_fraction from, muta_fraction to) MUTA_CHECK;
/* The key in force for a tone at a moment, its mode as study says it; C major where none is. */
muta_key muta_passage_key_at(const muta_passage *passage, const muta_tone *tone,
                             muta_fraction time);
/*
 * Gives the signatures another mode on their tonics; chord symbols become what the chords that were
 * laid become, if a pass says so, or else go by degree. As `keys` and what the passage covers tell,
 * as muta_passage_move_keys does; where a part would pass seven accidentals, they stay, and that is
 * said.
 */
muta_status muta_passage_recast_keys(muta_passage *passage, const muta_scale *scale, muta_keys keys,
                                     muta_diags *diags) MUTA_CHECK;
/* Where a moment of the passage first read falls in a statement of it. */
muta_fraction muta_statement_place(const muta_statement *statement, muta_fraction time);
/* Whether every moment is where it was. */
bool muta_passage_keeps_time(const muta_passage *passage);
/*
 * How many tones of a part a pass moved out of the range of its instrument; 0 when that is not
 * known.
 */
size_t muta_passage_outside(const muta_passage *passage, uint32_t part,
                            muta_instrument *instrument);
/* Where the passage begins in its score, in quarters, for a part that may have a grid of its own.
 */
muta_fraction muta_passage_start(const muta_passage *passage, uint32_t part);
/* Whether the passage works on this part at all; with everything it works on all of them. */
bool muta_passage_works_on(const muta_passage *passage, uint32_t part);

#endif
