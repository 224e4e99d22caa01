/*
 * rewrite.h: bars whose time changed, written anew into the tree. What no passage reached keeps its
 * nodes; what stays where it was keeps its value.
 */
#ifndef MUSICXML_REWRITE_H
#define MUSICXML_REWRITE_H

#include "musicxml/build.h"
#include "notate/written.h"
#include "score/plan.h"

/* How a voice's silence is written: as the composer wrote it. */
typedef enum {
    MUTA_SILENCE_SHOWN,
    MUTA_SILENCE_HIDDEN,
    MUTA_SILENCE_GAP,
} muta_silence;

enum {
    MUTA_TIED_BEHIND = 1, /* what it is tied on to moved, and there is a tone of its pitch again */
    MUTA_TIED_BEFORE = 2,
};

/* One voice of one bar, as it is to be written. */
typedef struct muta_voice_bar {
    uint32_t bar; /* of the plan */
    uint32_t voice;
    uint8_t layer;
    muta_sounding *soundings;
    size_t count;
    muta_segments segments;
    muta_items items;
} muta_voice_bar;

typedef struct muta_part_bars {
    MUTA_VEC(muta_voice_bar) bars; /* in order of bar, voice, layer */
} muta_part_bars;

/* Where the tone of a written note stands now. */
typedef struct muta_placement {
    uint32_t note;      /* the head from which its node came */
    uint32_t statement; /* counted over all passages */
    uint32_t voice;
    uint32_t bar;     /* of the plan */
    uint32_t order;   /* of writing */
    muta_fraction at; /* from the start of the score as it will be */
    muta_node first;  /* its first note, and its last of those tied to it */
    muta_node last;
    bool is_divided; /* its notes are pieces of one tone, not only tied */
} muta_placement;

/* A tone span: a slur, a glissando, a slide, a tremolo of two notes, a trill line. */
typedef struct muta_tone_span {
    uint32_t from; /* the note where it starts; MUTA_NO_NOTE when that is missing */
    uint32_t to;
    muta_node start; /* its elements, and what holds them */
    muta_node stop;
    muta_node start_holder;
    muta_node stop_holder;
} muta_tone_span;

/* The two ends of a slur in the tree as it is written. */
typedef struct muta_hung {
    muta_node start;
    muta_node stop;
    bool is_new; /* both ends were hung anew */
} muta_hung;

/* What stands on a rest, a fermata as a rule, and where that goes. */
typedef struct muta_rest_mark {
    uint32_t note; /* the rest */
    uint32_t bar;  /* of the plan */
    uint32_t voice;
    muta_fraction onset;
    bool is_put;
} muta_rest_mark;

/* Something besides notes that goes to another place, or is stated again. */
typedef struct muta_moved_thing {
    muta_node node;
    uint32_t thing; /* its index in the part */
    uint32_t bar;   /* of the plan */
    muta_fraction onset;
    uint8_t staff;
    bool is_turned; /* a wedge that opened closes now */
} muta_moved_thing;

typedef struct muta_rewriting {
    muta_arena arena; /* for as long as one part is written */
    const muta_plan *plan;
    muta_score *score;
    uint32_t part;
    bool *used;        /* by note: its node has its new place */
    muta_node *whole;  /* by note: a copy as it was before it was cut, or 0 */
    bool has_waiting;  /* a note that stays is tied to one that moved */
    uint8_t *tied;     /* by note that stays: MUTA_TIED_..., the ends of ties that found a tone */
    uint8_t *silences; /* by voice: how its silence is written, a muta_silence */
    muta_part_bars bars;
    muta_node *cells; /* by bar of the plan */
    MUTA_VEC(muta_placement) placements;
    MUTA_VEC(muta_tone_span) spans;
    MUTA_VEC(muta_hung) hung; /* slurs as they are written */
    MUTA_VEC(muta_rest_mark) rest_marks;
    muta_node *words;       /* by note: a node that holds its lyrics as they were, or 0 */
    uint32_t *tremolo_with; /* by note: the other of a tremolo of two, or MUTA_NO_NOTE */
    bool *thing_moves;      /* by thing of the part: it leaves its place */
    MUTA_VEC(muta_moved_thing) things; /* in order of their bars */
    muta_diags *diags;
} muta_rewriting;

/* How a voice's silence is written in a bar of the plan: as in the bar that was there. */
muta_silence muta_rewrite_silence(const muta_rewriting *rewriting, uint32_t bar, uint32_t voice);
/* Finds what is written in each voice-bar of a part. */
muta_status muta_rewrite_notate(muta_rewriting *rewriting) MUTA_CHECK;
/*
 * Whether a note that stays keeps its beams: all that they join stay too. Of those that have none
 * only a singer's stay so.
 */
bool muta_rewrite_keeps_beams(const muta_rewriting *rewriting, uint32_t note);
/* Cuts beams that reached over a bar line from what is written anew into what is not. */
muta_status muta_rewrite_beams_cut(muta_rewriting *rewriting) MUTA_CHECK;
/* Writes the part's cells; the divisions are fine enough already. */
muta_status muta_rewrite_cells(muta_rewriting *rewriting) MUTA_CHECK;
/* Keeps the lyrics that go to other notes, before anything is written. */
muta_status muta_words_keep(muta_rewriting *rewriting) MUTA_CHECK;
/* The words that an event bears: those of its first note, and what is joined to them. */
muta_status muta_words_of(muta_rewriting *rewriting, const muta_event *event,
                          muta_node *words) MUTA_CHECK;
/* Finds the tone spans of the part, before anything is written. */
muta_status muta_spans_find(muta_rewriting *rewriting) MUTA_CHECK;
/* Sections of equally many bars, one behind the other. */
typedef struct muta_sections {
    size_t first; /* the bar with which the first begins */
    size_t bars;
} muta_sections;

/* Which section a bar is in, from 1; 0 before them. */
size_t muta_section_of(const muta_sections *sections, size_t bar);
/* Takes ends off that have no partner in their section. */
muta_status muta_spans_prune(muta_rewriting *rewriting, const muta_sections *sections) MUTA_CHECK;
/* Hangs those with an end that moved to where their tones are now; none stays half open. */
muta_status muta_spans_hang(muta_rewriting *rewriting) MUTA_CHECK;
/* Gives slurs that were hung anew numbers under which they meet no other. */
muta_status muta_spans_number(muta_rewriting *rewriting) MUTA_CHECK;
/* Finds what follows the passages' time: directions, chord symbols, figured bass, time spans. */
muta_status muta_things_find(muta_rewriting *rewriting) MUTA_CHECK;
/* The other end of a time span; NULL when the part has none. */
const muta_thing *muta_things_partner(const muta_part *part, uint32_t index);
/* Finds where what stands on the rests of passages goes. */
muta_status muta_rest_marks_find(muta_rewriting *rewriting) MUTA_CHECK;
/* Whether what stands on a rest goes elsewhere, so that the rest is written anew. */
bool muta_rest_marks_has(const muta_rewriting *rewriting, uint32_t rest);
/* Puts it to a rest that is written. */
muta_status muta_rest_marks_put(muta_rewriting *rewriting, const muta_voice_bar *bar,
                                const muta_item *item, muta_node rest) MUTA_CHECK;
/* Tells of what met no rest. */
void muta_rest_marks_tell(const muta_rewriting *rewriting);
/* Takes off signs that would hide bars that are written anew. */
void muta_hints_drop(muta_rewriting *rewriting);
/* Whether a node is the bar line at the end of its bar. */
bool muta_rewrite_is_end(const muta_tree *tree, muta_node node);
/* Multiplies every number of a part that is counted in divisions. */
muta_status muta_multiply_divisions(muta_score *score, uint32_t part, int64_t factor) MUTA_CHECK;
/* Whether divisions change in the bars of a passage, in a part that it reaches. */
bool muta_divisions_change(const muta_score *score, const muta_passage *const *passages,
                           size_t count);
/*
 * Counts such parts in one kind of divisions each, said where the part begins; then the score is
 * read again. Otherwise a bar could not be counted in one kind, or a statement could go with its
 * bar. MUTA_E_DATA, and told, when there is no such kind.
 */
muta_status muta_divisions_settle(muta_score *score, const muta_passage *const *passages,
                                  size_t count, muta_diags *diags) MUTA_CHECK;
/* By which factor the divisions of the part must grow for what is to be written. */
muta_status muta_rewrite_factor(const muta_rewriting *rewriting, int64_t *factor) MUTA_CHECK;

/* Takes the clefs of a staff out of `attributes`; true when nothing else was in it. */
bool muta_clefs_take_out(muta_tree *tree, muta_node attributes, uint8_t staff);
/* Sets clefs for the bars of a part that were written anew, as the score is read again. */
muta_status muta_clefs_set(muta_score *score, muta_part *part) MUTA_CHECK;
/* Puts the techniques of a passage, whose notes are written, to them. @param count [out] grows */
muta_status muta_techniques_put(muta_score *score, const muta_plan *plan,
                                const muta_passage *passage, size_t *count) MUTA_CHECK;
/*
 * Writes what was planned for a part into its branch of the tree. The score's model is that of the
 * tree before until it is built again.
 */
muta_status muta_rewrite_part(muta_score *score, const muta_plan *plan, uint32_t part,
                              muta_diags *diags) MUTA_CHECK;
/* What is left when all parts are written. */
void muta_rewrite_end(muta_plan *plan);

/* Chord symbols of a passage whose signatures got another mode follow them, kind and all. */
muta_status muta_recast_symbols(muta_score *score, const muta_passage *passage) MUTA_CHECK;

/* Says another metre where a passage has one, and the old one again behind it. */
muta_status muta_metre_put(muta_score *score, const muta_plan *plan,
                           const muta_passage *passage) MUTA_CHECK;

/*
 * Scales the tempo marks of a passage of all parts whose values are other ones, says the old tempo
 * behind it; or warns that they keep their figures. After the score was built again.
 */
muta_status muta_tempo_put(muta_score *score, const muta_plan *plan, const muta_passage *passage,
                           muta_diags *diags) MUTA_CHECK;

#endif
