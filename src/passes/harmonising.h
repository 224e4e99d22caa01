/*
 * harmonising.h: chords for a tune on their way: the whiles in which one stands
 * (harmonising_slots.c), which may stand there (harmonising_chords.c), the search for the best of
 * them (harmonising_search.c), and which of the answers is asked for (harmonising_answer.c).
 */
#ifndef PASSES_HARMONISING_H
#define PASSES_HARMONISING_H

#include "base/search.h"
#include "base/vec.h"
#include "passes/pass.h"
#include "study/study.h"
#include "theory/palette.h"
#include "theory/part_writing.h"

enum {
    MUTA_NO_CLASS = -1, /* no pitch class */
    /* Costs that both files know, in thousandths; set by hand. */
    MUTA_UNNAMED = 40000, /* a tone of the tune that no rule can name */
    MUTA_SECOND_INVERSION = 4000,
    MUTA_MIDWAY = 500, /* thousandths of stray from which on cadences are prepared anew */
    MUTA_FAR = 700     /* thousandths of stray from which on less is kept */
};

/* A tone of the tune, in whatever line it is. */
struct muta_harmonised_note {
    muta_fraction onset;
    muta_fraction end;
    muta_pitch pitch;
    int semitones;
    bool is_strong;
    bool closes; /* a phrase */
};

/* A while in which one chord stands. */
struct muta_harmonised_slot {
    muta_fraction from;
    muta_fraction to;
    const muta_passage_chord *old;
    bool is_split;     /* it goes on the chord of the slot before, */
    bool is_turned;    /* but for the bass */
    bool is_close;     /* a phrase ends in it */
    bool is_after;     /* it has ended: its last tone is held into it */
    uint8_t level;     /* of its first moment, as study counts them: 0 for that of a bar */
    bool is_fixed;     /* its chord stays */
    bool is_abroad;    /* it is of the phrase that goes to another key, */
    bool is_pivot;     /* and its first: its chord belongs to both keys */
    bool is_cadence;   /* the same, as long as the tune has a name over it */
    bool is_held;      /* the bass is held into it, */
    uint8_t held_bass; /* with this pitch class */
    uint16_t struck;   /* how many tones of the accompaniment begin in it, */
    uint16_t drawn;    /* and of these, how many are no plain chord's: they run, are foreign, or go
                          with the tune */
    bool is_short;     /* than a beat */
    uint16_t due; /* what the composer's dissonances at its end go to: a bit for each pitch class */
    int16_t pedal; /* the pitch class on which the bass stays while the chords above it change, or
                     MUTA_NO_CLASS */
    uint8_t held;  /* how many tones of the accompaniment are, */
    uint16_t held_tones; /* and which: a bit for each pitch class */
    int16_t tune;        /* what the tune sounds as it begins, in semitones; 0 for nothing */
    uint8_t tune_class;  /* its pitch class */
    int16_t last;        /* what the tune sounds as it ends; 0 for nothing */
    uint8_t last_class;
    size_t note; /* of the tune: the first that sounds in it, and the end */
    size_t note_end;
    size_t option; /* its first candidate */
    size_t count;
};

/* A chord that may stand in a slot. */
struct muta_harmonised_option {
    muta_chord value;
    muta_palette_chord of; /* the row that it comes from */
    /* What follows from the value, as pitch classes: */
    uint8_t root_class;
    uint8_t bass_class;
    int16_t seventh; /* that has to fall; MUTA_NO_CLASS for none */
    int16_t leading; /* that has to rise */
    uint16_t tones;  /* a bit for each */
    int32_t
        strays; /* for how long, in thousandths of a quarter, it is on another root than the old */
    uint32_t takers; /* in how many answers before it sounds */
    bool is_old;
    bool is_unfit;       /* with a tone of the tune that no rule names */
    int16_t anticipates; /* the tone that the next chord is to have, in semitones; 0 for none */
    int64_t tune;        /* what foreign tones of the tune cost over it */
    int64_t cost;        /* by itself, all in all */
};

/* The chords of a palette for one mode. */
struct muta_harmonised_palette {
    MUTA_VEC(muta_palette_chord) chords;
    bool is_read;
};

/* Whether the line for which chords are sought is all there is, so that there were none. */
typedef enum {
    MUTA_NOT_ALONE,
    MUTA_ALONE_TUNE,
    MUTA_ALONE_BASS
} muta_alone;

/* How inner phrases are to end. */
typedef enum {
    MUTA_CADENCES_KEEP, /* as they did */
    MUTA_CADENCES_DECEPTIVE,
    MUTA_CADENCES_HALF,
    MUTA_CADENCES_PLAGAL
} muta_cadences;

/* How often chords change. */
typedef enum {
    MUTA_CHORD_A_BAR,  /* and where a line asks for it */
    MUTA_CHORD_A_HALF, /* and more freely on beats */
    MUTA_CHORD_A_BEAT, /* as a chorale's do */
} muta_chord_pace;

struct muta_harmonising {
    const muta_call *call;
    const char *palette; /* its name */
    muta_texture work;
    muta_arena arena;
    MUTA_VEC(struct muta_harmonised_note) tune; /* in order of time */
    muta_alone alone;
    muta_chord_pace pace; /* of a line alone */
    int64_t stray;        /* in thousandths */
    int64_t most;         /* chords a bar; 0: as many as there are */
    muta_cadences cadences;
    bool enriches;           /* roots stay, chords are given sevenths and ninths */
    muta_given_key modulate; /* where the last phrase is to go */
    int64_t drive;  /* what a quarter on another root than the old is worth, in thousandths */
    bool is_driven; /* that is known */
    int64_t apart;  /* what it costs to sound as an answer before does, the same way */
    bool is_anew;   /* the tune is another than that to which the old chords were set */
    MUTA_VEC(struct muta_harmonised_slot) slots;
    MUTA_VEC(struct muta_harmonised_option) options;
    /* The one that was asked for, and beyond it; major, minor: */
    struct muta_harmonised_palette palettes[2][2];
};

/* The tones of the tune. */
muta_status muta_harmonising_find_tune(struct muta_harmonising *work) MUTA_CHECK;
/* The old chords, parted at bar lines. Borrows: the chords. */
muta_status muta_harmonising_find_slots(struct muta_harmonising *work,
                                        const muta_passage_chord *chords, size_t count) MUTA_CHECK;
muta_status muta_harmonising_add_slot(struct muta_harmonising *work, muta_fraction from,
                                      muta_fraction to, const muta_passage_chord *old,
                                      bool is_split) MUTA_CHECK;
/* The first chord stays, and that of a pick-up with it; so does the last, which closes. */
void muta_harmonising_fix_ends(struct muta_harmonising *work);
/* What the tune and the accompaniment do in each slot, and which are cadences. */
muta_status muta_harmonising_hear(struct muta_harmonising *work) MUTA_CHECK;
/* Whether an inner phrase ends in a slot, and is to end in another way than it did. */
bool muta_harmonising_ends_otherwise(const struct muta_harmonising *work,
                                     const struct muta_harmonised_slot *slot);
/* The last phrase is heard in the key to which it is to go. */
muta_status muta_harmonising_go_abroad(struct muta_harmonising *work) MUTA_CHECK;
/* What may stand in each slot, so that the tune goes with it as far as any chord does. */
muta_status muta_harmonising_find_chords(struct muta_harmonising *work) MUTA_CHECK;
/* What a foreign tone costs at most over the old chord: what the composer did needs no rule, but
 * the farther one strays the more it does. */
int64_t muta_harmonising_licence(const struct muta_harmonising *work);
/* Whether a tone, in semitones, has the class of one of a chord's. */
bool muta_harmonised_has(const struct muta_harmonised_option *option, int semitones);
/* The cheapest way through the slots. */
muta_status muta_harmonising_best(struct muta_harmonising *work,
                                  const muta_answer **answer) MUTA_CHECK;
/*
 * The best answer that strays as far as is asked for, or the pick-th: the best of those that differ
 * in a third of their chords from each before.
 * @param answer  [out] in the arena: by slot, which of its options
 */
muta_status muta_harmonising_search(struct muta_harmonising *work,
                                    const muta_answer **answer) MUTA_CHECK;
/* An answer, as chords. @param chords  [out] in the arena: as many as there are slots */
muta_status muta_harmonising_take(struct muta_harmonising *work, const muta_answer *answer,
                                  muta_passage_chord **chords) MUTA_CHECK;

#endif
