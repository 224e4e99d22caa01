/* texture.h: the passage as the rooms of the score see it. */
#ifndef SCORE_TEXTURE_H
#define SCORE_TEXTURE_H

#include "score/region.h"

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
} muta_passage_key_entry;

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
    muta_interval keys_by; /* what passes added to the keys and chord symbols */
    muta_weave work;
    const muta_weave *context; /* its own, or of the passage that it was made like */
    muta_weave own_context;
    MUTA_VEC(muta_passage_key_entry) keys;
    uint32_t next_id;
};

#endif
