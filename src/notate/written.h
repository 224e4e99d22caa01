/*
 * written.h: how a stretch of time is written: note values with dots, ties, tuplets and beams.
 *
 *     segments   what sounds, or is silent, one behind another; they fill the bar
 *        │       muta_notate_values: cut at beats, gathered into tuplets
 *     items      what is written, one behind another, and where its beams begin and end
 */
#ifndef NOTATE_WRITTEN_H
#define NOTATE_WRITTEN_H

#include "score/model.h"

enum {
    MUTA_TUPLET_LEVELS = 3,
    MUTA_BEAM_LEVELS = 8,
    MUTA_SILENCE = 0xffffffff,
};

/* One thing that sounds, or silence, from a moment of the bar to another. */
typedef struct muta_segment {
    muta_fraction from;
    muta_fraction to;
    uint32_t what;    /* the caller's, or MUTA_SILENCE */
    bool is_gap;      /* silence that is not shown */
    bool is_kept;     /* its value is given below, and stays */
    bool keeps_beams; /* so do its beams, or that it has none */
    bool is_cue;      /* it is seen and does not sound */
    int8_t type;      /* as in muta_item */
    uint8_t dots;
} muta_segment;

/* One end, or both, of a tuplet at an item. */
typedef struct muta_tuplet {
    uint16_t actual; /* 0: the item is in no tuplet at this level */
    uint16_t normal;
    int8_t type;
    bool begins;
    bool ends;
    bool is_bracketed;
} muta_tuplet;

typedef enum {
    MUTA_BEAM_NONE,
    MUTA_BEAM_BEGIN,
    MUTA_BEAM_CONTINUE,
    MUTA_BEAM_END,
    MUTA_BEAM_FORWARD_HOOK,
    MUTA_BEAM_BACKWARD_HOOK,
} muta_beam;

typedef struct muta_item {
    muta_fraction from; /* from the start of the bar */
    muta_fraction to;
    uint32_t segment; /* the index of what it writes */
    bool begins;      /* the first item of its segment */
    bool ends;
    bool is_kept;      /* with the value that its segment gave */
    bool is_whole_bar; /* a rest for the whole bar, whatever its length */
    int8_t type;       /* the power of two in quarters: 0 a quarter, -1 an eighth, 1 a half */
    uint8_t dots;
    muta_tuplet tuplets[MUTA_TUPLET_LEVELS]; /* the outer one first */
    uint8_t beams[MUTA_BEAM_LEVELS];         /* of muta_beam */
} muta_item;

typedef MUTA_VEC(muta_segment) muta_segments;
typedef MUTA_VEC(muta_item) muta_items;

/* How a bar is beaten: groups of beats, the first of which may have begun before the bar. */
typedef struct muta_pulse {
    muta_fraction start; /* of the first group; below 0 in a pick-up */
    muta_fraction beat;
    bool is_loose; /* any value may stand anywhere: inside a tuplet of five or seven */
    size_t count;
    uint8_t groups[64];
} muta_pulse;

/* The value of so many quarters, 2 dots at most; false when it is none, or under a 1024th. */
bool muta_value_of(muta_fraction quarters, int8_t *type, uint8_t *dots);
/*
 * How a bar of this length is beaten. `is_end`: it is the end of a bar of its metre, as a pick-up
 * is, or what stands behind a repeat in the middle of a bar.
 */
muta_pulse muta_pulse_of(const muta_metre *metre, muta_fraction length, bool is_end);
/*
 * Writes segments, which fill the bar, as items. Source of where values are cut: common practice
 * (the beats are shown; short-long-short and a dotted value from the beat are not cut; rests are).
 * @return MUTA_OK, MUTA_E_MEMORY, or MUTA_E_DATA when a value would be under a 1024th
 */
muta_status muta_notate_values(muta_arena *arena, const muta_pulse *pulse,
                               const muta_segments *segments, muta_items *items) MUTA_CHECK;
/* Joins items with beams, by the beats. Source: common practice. */
void muta_notate_beams(const muta_pulse *pulse, const muta_segments *segments, muta_items *items);

/* A bar as it was written, and what for. */
typedef struct muta_layout {
    muta_pulse pulse;
    muta_segments segments;
    muta_items items;
} muta_layout;

enum {
    MUTA_LAYOUTS = 256
};

/* Bars that were written lately, by their rhythm. Zeroed, it knows none. */
typedef struct muta_layouts {
    muta_layout at[MUTA_LAYOUTS];
} muta_layouts;

/*
 * Both of the above; a rhythm that is known already is not searched again. Several bars may come to
 * share their items, which are not to be changed. Borrows: the segments, for as long as `known`
 * lives, in the same arena.
 */
muta_status muta_notate_bar(muta_layouts *known, muta_arena *arena, const muta_pulse *pulse,
                            const muta_segments *segments, muta_items *items) MUTA_CHECK;

#endif
