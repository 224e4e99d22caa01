/* texture.h: the passage as the rooms of the score see it. */
#ifndef SCORE_TEXTURE_H
#define SCORE_TEXTURE_H

#include "score/region.h"
#include "theory/instrument.h"

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
} muta_statement;

/* A technique that a part plays with for a while. */
typedef struct muta_playing {
    uint32_t part;
    muta_fraction from;
    muta_fraction to; /* invalid: to the passage's end */
    muta_technique technique;
} muta_playing;

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
    bool is_tail;          /* what stands behind a cut: it moves with all its staves hold */
    bool is_forced;        /* for tests: every tone is written anew, wherever it stands */
    muta_interval keys_by; /* what passes added to the keys and chord symbols */
    muta_weave work;
    const muta_weave *context; /* its own, or of the passage that it was made like */
    const muta_weave *first;   /* the work of the passage first read, the same way */
    muta_weave own_context;
    MUTA_VEC(muta_passage_key_entry) keys;
    MUTA_VEC(muta_stretch) stretches;
    MUTA_VEC(muta_statement) map;
    MUTA_VEC(muta_playing) playing;
    uint32_t next_id;
};

/* Lets a part play with a technique. @param to  invalid: to the passage's end */
muta_status muta_passage_play(muta_passage *passage, uint32_t part, const muta_technique *technique,
                              muta_fraction from, muta_fraction to) MUTA_CHECK;
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

#endif
