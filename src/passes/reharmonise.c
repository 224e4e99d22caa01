/* reharmonise.c: other chords under the same tune, found by search; the accompaniment follows them
 * in its own figures. */
#include "base/search.h"
#include "base/vec.h"
#include "passes/pass.h"
#include "passes/refigure.h"
#include "study/study.h"
#include "theory/palette.h"
#include "theory/table.h"
#include <stdlib.h>
#include <string.h>

enum {
    REWRITE,
    LEAVE
};

static const char *const figurations[] = {"rewrite", "leave", NULL};

struct args {
    const char *palette;
    muta_fraction stray;
    int figuration;
};

static const muta_param params[] = {
    MUTA_ARG_NAME(struct args, palette, "common-practice", muta_table_palettes,
                  "which chords there are"),
    MUTA_ARG_SHARE(struct args, stray, "0.3",
                   "how far from the chords that were there: 0 stays with them, 1 avoids them"),
    MUTA_ARG_CHOICE(struct args, figuration, "rewrite", figurations,
                    "the accompaniment onto the new chords in its own figures, or only symbols"),
};

/* Costs in thousandths; set by hand. */
enum {
    UNNAMED = 40000,  /* a tone of the tune that no rule can name */
    CLASH = 12000,    /* the tune has another form of a tone of the chord: F sharp over F */
    HELD_BASS = 6000, /* the bass changes where it was held on */
    LEANING = 1500,   /* a quarter of a foreign tone on a beat, resolved by step */
    FLEETING = 500,   /* the same off the beat */
    FREE_STEP = 2500, /* a quarter of one left or reached by step alone */
    NO_GOAL = 4000,   /* a chord that leads does not reach its goal */
    BACKWARD = 2000,  /* from the dominant to the subdominant */
    PLAGAL = 700,
    SAME_FUNCTION = 300,
    STUCK = 900,    /* the chord does not change where it did */
    RESTLESS = 300, /* it changes where it did not */
    INVERTED = 350,
    SECOND_INVERSION = 2200,
    THIRD_INVERSION = 700,
    UNRESOLVED_BASS = 3000,
    SEVENTH_LEFT = 1200, /* a seventh that has no tone to fall to */
    CADENTIAL = 300,     /* a six-four before its dominant */
    NO_CADENCE = 9000,   /* the end of a phrase is another than it was */
    DECEPTIVE = 2500,
    WEAK_APPROACH = 1500, /* the tonic at the end of a phrase without its dominant before */
    PARALLEL = 6000,      /* fifths or octaves of tune and bass */
    LEADING_LEFT = 2000,
    HIDDEN = 1500, /* the same, when only the outer voices' goal is one */
    TRITONE_LEAP = 700,
    AWAY = 750,  /* each step away from the old chord, at stray 0 */
    NEAR = 1050, /* each step that it could be farther: half of it at stray 1 */
    FARTHEST = 8
};

/* A tone of the tune, in whatever line it is. */
struct note {
    muta_fraction onset;
    muta_fraction end;
    muta_pitch pitch;
    int semitones;
    bool is_strong;
    bool closes; /* a phrase */
};

/* A while in which one chord stands. */
struct slot {
    muta_fraction from;
    muta_fraction to;
    const muta_passage_chord *old;
    bool is_split; /* it goes on the chord of the slot before */
    bool is_close; /* a phrase ends in it */
    bool is_fixed; /* its chord stays */
    bool is_held;  /* the bass is held into it */
    int16_t tune;  /* what the tune sounds as it begins, in semitones; 0 for nothing */
    size_t note;   /* of the tune: the first that sounds in it, and the end */
    size_t note_end;
    size_t option; /* its first candidate */
    size_t count;
};

/* A chord that may stand in a slot. */
struct option {
    muta_palette_chord chord;
    int32_t root; /* on the line of fifths */
    uint8_t bass;
    uint8_t bass_class;
    bool is_old;
    int64_t cost; /* by itself */
};

struct harmonising {
    const muta_call *call;
    const struct args *args;
    muta_texture work;
    muta_arena arena;
    MUTA_VEC(struct note) tune; /* in order of time */
    int64_t stray;              /* in thousandths */
    MUTA_VEC(struct slot) slots;
    MUTA_VEC(struct option) options;
};

/* ---- slots ---- */

static muta_status add_slot(struct harmonising *work, muta_fraction from, muta_fraction to,
                            const muta_passage_chord *old, bool is_split)
{
    struct slot *const slot = MUTA_PUSH(&work->arena, &work->slots);

    if (!slot)
        return MUTA_E_MEMORY;
    *slot = (struct slot){.from = from, .to = to, .old = old, .is_split = is_split};
    return MUTA_OK;
}

/* The first chord stays, and that of a pick-up with it; so does the last, which closes. */
static void fix_ends(struct harmonising *work)
{
    struct slot *const last = &work->slots.at[work->slots.count - 1];
    muta_beat beat;

    muta_passage_beat_at(work->call->in, MUTA_ZERO, &beat);
    for (size_t i = 0; i < work->slots.count; i++) {
        work->slots.at[i].is_fixed = true;
        if (beat.bar.top >= 0 || muta_fraction_compare(work->slots.at[i].from, beat.end) >= 0)
            break;
    }
    last->is_fixed = true;
    last->is_close = true;
}

/* The old chords, parted at bar lines. */
static muta_status find_slots(struct harmonising *work)
{
    const muta_passage *const in = work->call->in;
    muta_passage_chord *chords;
    size_t count;

    MUTA_TRY(muta_passage_list_chords(in, &work->arena, &chords, &count));
    for (size_t i = 0; i < count; i++) {
        const muta_passage_chord *const chord = &chords[i];
        const muta_fraction end = chord->to;
        muta_fraction at = chord->from;
        bool is_split = false;
        while (muta_fraction_compare(at, end) < 0) {
            muta_beat beat;
            muta_passage_beat_at(in, at, &beat);
            muta_fraction to = muta_fraction_min(end, beat.end);
            if (muta_fraction_compare(to, at) <= 0)
                to = end;
            MUTA_TRY(add_slot(work, at, to, chord, is_split));
            is_split = true;
            at = to;
        }
    }
    if (work->slots.count > 0)
        fix_ends(work);
    return MUTA_OK;
}

static muta_fraction end_of(const muta_event *event)
{
    return muta_fraction_add(event->onset, event->duration);
}

static int by_onset(const void *a, const void *b)
{
    const struct note *const one = a;
    const struct note *const two = b;

    return muta_fraction_compare(one->onset, two->onset);
}

static muta_status find_tune(struct harmonising *work)
{
    for (size_t i = 0; i < work->work.tone_count; i++) {
        const muta_tone *const tone = &work->work.tones[i];
        const muta_event *const event = &work->work.events[tone->event];
        if (!tone->is_tune || tone->is_fixed || event->is_grace || event->is_cue)
            continue;
        struct note *const note = MUTA_PUSH(&work->arena, &work->tune);
        if (!note)
            return MUTA_E_MEMORY;
        *note = (struct note){.onset = event->onset,
                              .end = muta_fraction_add(event->onset, tone->duration),
                              .pitch = tone->pitch,
                              .semitones = muta_pitch_semitones(tone->pitch),
                              .is_strong = event->level <= MUTA_LEVEL_BEAT,
                              .closes = event->closes && work->work.lines[tone->line].is_tune};
    }
    muta_sort(work->tune.at, work->tune.count, sizeof *work->tune.at, by_onset);
    return MUTA_OK;
}

/* What the tune does in a slot: its first tone, and whether a phrase ends. */
static void hear_slot(const struct harmonising *work, struct slot *slot)
{
    for (size_t i = slot->note; i < slot->note_end; i++) {
        const struct note *const note = &work->tune.at[i];
        if (slot->tune == 0)
            slot->tune = (int16_t)note->semitones;
        slot->is_close =
            slot->is_close || (note->closes && muta_fraction_compare(note->onset, slot->from) >= 0);
    }
}

static void hear_tune(struct harmonising *work)
{
    size_t at = 0;

    for (size_t i = 0; i < work->slots.count; i++) {
        struct slot *const slot = &work->slots.at[i];
        while (at < work->tune.count &&
               muta_fraction_compare(work->tune.at[at].end, slot->from) <= 0)
            at++;
        slot->note = slot->note_end = at;
        while (slot->note_end < work->tune.count &&
               muta_fraction_compare(work->tune.at[slot->note_end].onset, slot->to) < 0)
            slot->note_end++;
        hear_slot(work, slot);
    }
}

/* Into which slots a tone of the bass is held. */
static void hear_bass(struct harmonising *work)
{
    for (size_t i = 0; i < work->work.tone_count; i++) {
        const muta_event *const event = &work->work.events[work->work.tones[i].event];
        size_t low = 0;
        size_t high = work->slots.count;
        if (!work->work.tones[i].is_bass)
            continue;
        while (low < high) { /* the first slot that begins behind it */
            const size_t middle = low + (high - low) / 2;
            if (muta_fraction_compare(work->slots.at[middle].from, event->onset) <= 0)
                low = middle + 1;
            else
                high = middle;
        }
        for (; low < work->slots.count &&
               muta_fraction_compare(work->slots.at[low].from, end_of(event)) < 0;
             low++)
            work->slots.at[low].is_held = true;
    }
}

/* ---- the tune over a chord ---- */

static bool has(const struct option *option, int semitones)
{
    return muta_chord_tone(option->chord.kind, semitones - muta_fifths_class(option->root)) >= 0;
}

/* The tone of the tune before (-1) or behind (1) one that follows without a rest; 0: none. */
static int beside(const struct harmonising *work, size_t note, int direction)
{
    const size_t other = direction < 0 ? note - 1 : note + 1; /* before the first: none */

    if (other >= work->tune.count)
        return 0;
    const struct note *const first = &work->tune.at[direction < 0 ? other : note];
    const struct note *const second = &work->tune.at[direction < 0 ? note : other];
    return muta_fraction_compare(first->end, second->onset) == 0 ? work->tune.at[other].semitones
                                                                 : 0;
}

static bool is_step(int from, int to)
{
    return from && to && from != to && abs(from - to) <= 2;
}

/* What a quarter of a foreign tone costs, by how it moves; what is said again is named by no rule.
 */
static int64_t price_foreign(const struct harmonising *work, size_t note, bool is_held)
{
    const int tone = work->tune.at[note].semitones;
    const int before = beside(work, note, -1);
    const int behind = beside(work, note, 1);
    const bool is_strong = work->tune.at[note].is_strong;

    if (is_held)
        return is_step(tone, behind) ? LEANING : UNNAMED;
    if (is_step(tone, behind) && (is_step(before, tone) || before == tone))
        return is_strong ? LEANING : FLEETING;
    if (is_step(tone, behind))
        return is_strong ? LEANING + FLEETING : FREE_STEP;
    return behind != tone && is_step(before, tone) ? FREE_STEP : UNNAMED;
}

/* Whether a tone has the letter of one of the chord's, and is not that. */
static bool clashes(const struct option *option, muta_pitch pitch)
{
    const muta_chord_row *const row = muta_chord_row_of(option->chord.kind);

    for (uint8_t i = 0; i < row->count; i++)
        if (abs(option->root + row->fifths[i] - muta_pitch_fifths(pitch)) == 7)
            return true;
    return false;
}

static int64_t price_tune(const struct harmonising *work, const struct slot *slot,
                          const struct option *option)
{
    int64_t price = 0;

    for (size_t i = slot->note; i < slot->note_end; i++) {
        const struct note *const note = &work->tune.at[i];
        if (has(option, note->semitones) || muta_fraction_compare(note->end, slot->from) <= 0)
            continue;
        const muta_fraction end = muta_fraction_min(slot->to, note->end);
        const muta_fraction lasts =
            muta_fraction_subtract(end, muta_fraction_max(note->onset, slot->from));
        /* What the composer did needs no rule. */
        const int64_t named =
            price_foreign(work, i, muta_fraction_compare(note->onset, slot->from) < 0);
        const int64_t each = option->is_old && named > FREE_STEP ? FREE_STEP : named;
        const muta_fraction cost = muta_fraction_scale(lasts, each);
        price += !option->is_old && clashes(option, note->pitch) ? CLASH : 0;
        price += each >= UNNAMED ? UNNAMED : cost.top / (cost.bottom ? cost.bottom : 1);
    }
    return price;
}

/* ---- candidates ---- */

static size_t shared_tones(const struct option *option, const muta_passage_chord *old)
{
    const muta_chord_row *const row = muta_chord_row_of(old->kind);
    size_t count = 0;

    for (uint8_t i = 0; i < row->count; i++)
        count += has(option, muta_fifths_class(old->root + row->fifths[i]));
    return count;
}

/*
 * How far a chord is from the old one: 0 the same, 1 over another bass, 2 on the same root, then by
 * the tones that they share.
 */
static int64_t distance(const struct option *option, const muta_passage_chord *old)
{
    const bool same_root = muta_fifths_class(option->root) == muta_fifths_class(old->root);
    const size_t shared = shared_tones(option, old);

    if (same_root && option->chord.kind == old->kind)
        return option->bass != old->bass;
    if (same_root && shared >= 2)
        return 2;
    return shared >= 2 ? 4 : shared == 1 ? 6 : FARTHEST;
}

/* What draws to the old chord fades fast as one strays, and what drives away from it grows. */
static int64_t price_stray(const struct harmonising *work, int64_t away)
{
    const int64_t stay = 1000 - work->stray;
    const int64_t draws = AWAY * stay / 1000 * stay / 1000 * stay / 1000;
    const int64_t drives = NEAR * work->stray / 1000 * (1500 - work->stray) / 1000;

    return draws * away + drives * (FARTHEST - away);
}

static int64_t price_inversion(const struct option *option)
{
    switch (option->bass) {
    case 0:
        return 0;
    case 1:
        return INVERTED;
    case 2:
        return SECOND_INVERSION;
    default:
        return THIRD_INVERSION;
    }
}

static muta_status add_option(struct harmonising *work, struct slot *slot, struct option option)
{
    const muta_chord_row *const row = muta_chord_row_of(option.chord.kind);

    option.bass_class = (uint8_t)muta_fifths_class(
        option.root + row->fifths[option.bass < row->count ? option.bass : 0]);
    option.cost = option.chord.cost + (option.is_old ? 0 : price_inversion(&option)) +
                  price_stray(work, distance(&option, slot->old)) + price_tune(work, slot, &option);
    struct option *const added = MUTA_PUSH(&work->arena, &work->options);
    if (!added)
        return MUTA_E_MEMORY;
    *added = option;
    slot->count++;
    return MUTA_OK;
}

/* The old chord as it stood, and what it does in its key as far as its root tells. */
static muta_status add_old(struct harmonising *work, struct slot *slot)
{
    static const muta_function functions[12] = {
        MUTA_FUNCTION_TONIC,    MUTA_FUNCTION_SUBDOMINANT, MUTA_FUNCTION_SUBDOMINANT,
        MUTA_FUNCTION_TONIC,    MUTA_FUNCTION_TONIC,       MUTA_FUNCTION_SUBDOMINANT,
        MUTA_FUNCTION_DOMINANT, MUTA_FUNCTION_DOMINANT,    MUTA_FUNCTION_TONIC,
        MUTA_FUNCTION_TONIC,    MUTA_FUNCTION_DOMINANT,    MUTA_FUNCTION_DOMINANT};
    const muta_passage_chord *const old = slot->old;
    const int32_t above = old->root - old->tonic;
    struct option option = {.root = old->root, .bass = old->bass, .is_old = true};

    option.chord = (muta_palette_chord){.root = above,
                                        .kind = old->kind,
                                        .function = functions[muta_fifths_class(above)],
                                        .goal = MUTA_NO_GOAL};
    return add_option(work, slot, option);
}

/* In each of the positions that it may stand in; those of the sixths are their own. */
static muta_status add_chord(struct harmonising *work, struct slot *slot,
                             const muta_palette_chord *chord)
{
    const muta_chord_row *const row = muta_chord_row_of(chord->kind);
    const bool is_sixth = chord->kind == MUTA_CHORD_ITALIAN || chord->kind == MUTA_CHORD_GERMAN ||
                          chord->kind == MUTA_CHORD_FRENCH;
    struct option option = {.chord = *chord, .root = slot->old->tonic + chord->root};

    for (uint8_t bass = 0; bass < row->count && bass < 4; bass++) {
        option.bass = bass;
        if ((is_sixth && bass > 0) || (row->count == MUTA_CHORD_MOST && bass > 0) ||
            (bass == 2 && chord->kind != MUTA_CHORD_MAJOR && chord->kind != MUTA_CHORD_MINOR &&
             chord->kind != MUTA_CHORD_DOMINANT))
            continue;
        MUTA_TRY(add_option(work, slot, option));
    }
    return MUTA_OK;
}

static muta_status find_options(struct harmonising *work)
{
    for (size_t i = 0; i < work->slots.count; i++) {
        struct slot *const slot = &work->slots.at[i];
        const char *at = muta_table_palettes;
        muta_palette_chord chord;
        slot->option = work->options.count;
        MUTA_TRY(add_old(work, slot));
        while (!slot->is_fixed &&
               muta_palette_next(&at, work->args->palette, slot->old->is_minor, &chord))
            MUTA_TRY(add_chord(work, slot, &chord));
    }
    return MUTA_OK;
}

/* ---- from chord to chord ---- */

static int64_t price_function(const struct option *from, const struct option *to)
{
    static const int16_t prices[3][3] = {
        [MUTA_FUNCTION_TONIC] = {SAME_FUNCTION, 0, 100},
        [MUTA_FUNCTION_SUBDOMINANT] = {PLAGAL, SAME_FUNCTION, 0},
        [MUTA_FUNCTION_DOMINANT] = {0, BACKWARD, SAME_FUNCTION},
    };

    return prices[from->chord.function][to->chord.function];
}

static bool is_six_four(const struct option *option)
{
    return option->bass == 2 && option->chord.root == 0 &&
           option->chord.function == MUTA_FUNCTION_TONIC;
}

static bool is_dominant(const struct option *option)
{
    return option->chord.root == 1 && option->chord.function == MUTA_FUNCTION_DOMINANT;
}

/* A chord that leads reaches its goal, or a six-four before it, or stays on the same root. */
static int64_t price_goal(const struct option *from, const struct option *to)
{
    const int32_t goal = from->chord.goal;

    const bool same_root = muta_fifths_class(from->root) == muta_fifths_class(to->root);

    /* What was a dominant does not fade into the minor. */
    if (same_root && muta_chord_is_dominant(from->chord.kind) &&
        !muta_chord_is_dominant(to->chord.kind))
        return NO_GOAL;
    if (goal == MUTA_NO_GOAL || same_root)
        return 0;
    if (to->chord.root == goal || (goal == 1 && is_six_four(to)))
        return -PLAGAL;
    return NO_GOAL;
}

static int64_t price_bass(const struct option *from, const struct option *to)
{
    const int moves = muta_semitones_class(to->bass_class - from->bass_class);
    const int64_t price = moves == 6 ? TRITONE_LEAP : 0;
    const bool falls = moves == 0 || moves >= 10; /* by step, or stays */
    const bool steps = falls || moves <= 2;

    if (is_six_four(from))
        return price + (is_dominant(to) && moves == 0 ? CADENTIAL - SECOND_INVERSION : NO_GOAL);
    return price +
           ((from->bass == 3 && !falls) || (from->bass == 2 && !steps) ? UNRESOLVED_BASS : 0);
}

/* A seventh stays, or has a tone a step below it in the next chord. */
static int64_t price_seventh(const struct option *from, const struct option *to)
{
    const muta_chord_row *const row = muta_chord_row_of(from->chord.kind);
    const bool has_seventh = row->count >= MUTA_CHORD_TONES && row->classes[3] >= 10;
    const int seventh = muta_fifths_class(from->root + row->fifths[3]);

    return has_seventh && !has(to, seventh) && !has(to, seventh - 1) && !has(to, seventh - 2)
               ? SEVENTH_LEFT
               : 0;
}

static int64_t price_root(const struct option *from, const struct option *to)
{
    static const int16_t prices[12] = {0,    700, 800, 500, 400, 0,
                                       1400, 400, 300, 200, 900, 700}; /* semitones up */

    return prices[muta_semitones_class(muta_fifths_class(to->root) -
                                       muta_fifths_class(from->root))];
}

static bool is_same(const struct option *a, const struct option *b)
{
    return muta_fifths_class(a->root) == muta_fifths_class(b->root) &&
           a->chord.kind == b->chord.kind;
}

/* Whether the tune and the bass go in fifths or octaves. */
static bool are_parallel(const struct slot *before, const struct slot *slot,
                         const struct option *from, const struct option *to)
{
    const int first = muta_semitones_class(before->tune - from->bass_class);
    const int second = muta_semitones_class(slot->tune - to->bass_class);

    return before->tune && slot->tune && before->tune != slot->tune &&
           from->bass_class != to->bass_class && first == second && (first == 0 || first == 7);
}

/* Whether the tune leaps to a fifth or an octave over a bass that goes the same way, as far as it
 * goes the nearest way. */
static bool are_hidden(const struct slot *before, const struct slot *slot,
                       const struct option *from, const struct option *to)
{
    const int leap = slot->tune - before->tune;
    const int between = muta_semitones_class(slot->tune - to->bass_class);
    const int up = muta_semitones_class(to->bass_class - from->bass_class);

    return before->tune && slot->tune && abs(leap) > 2 && up != 0 && (up < 6) == (leap > 0) &&
           (between == 0 || between == 7);
}

/* Whether the leading tone, in the bass or the tune, does not rise to its tonic. */
static bool leaves_leading(const struct slot *before, const struct slot *slot,
                           const struct option *from, const struct option *to)
{
    const int32_t leading = muta_chord_leading(from->chord.kind, from->root, before->old->tonic);
    const int was = muta_fifths_class(leading);
    const int tonic = muta_fifths_class(to->root);

    if (leading == MUTA_NO_LEADING || muta_semitones_class(was + 1) != tonic)
        return false;
    return (from->bass_class == was && to->bass_class != tonic) ||
           (before->tune && slot->tune && muta_semitones_class(before->tune) == was &&
            slot->tune - before->tune != 1);
}

/* Whether a chord leads to the tonic. */
static bool leads_home(const struct option *option)
{
    return option->chord.function == MUTA_FUNCTION_DOMINANT &&
           (option->chord.goal == MUTA_NO_GOAL || option->chord.goal == 0);
}

/* The end of a phrase stays what it was: on the tonic, with its dominant before, or open on that.
 */
static int64_t price_cadence(const struct harmonising *work, const struct slot *slot,
                             const struct option *from, const struct option *to)
{
    const int32_t was = slot->old->root - slot->old->tonic;

    if (!slot->is_close || (was != 0 && was != 1))
        return 0;
    if (to->chord.root != was)
        return was == 0 && to->chord.function == MUTA_FUNCTION_TONIC
                   ? DECEPTIVE * (1000 - work->stray) / 1000
                   : NO_CADENCE;
    if (was != 0 || !from || from->is_old || leads_home(from))
        return 0;
    const int32_t before = slot[-1].old->root - slot[-1].old->tonic;
    return before == 1 || before == 5 ? NO_CADENCE : WEAK_APPROACH;
}

static uint32_t count_options(void *context, size_t step)
{
    const struct harmonising *const work = context;

    return (uint32_t)work->slots.at[step].count;
}

static int64_t price_option(void *context, size_t step, uint32_t from_index, uint32_t to_index)
{
    const struct harmonising *const work = context;
    const struct slot *const slot = &work->slots.at[step];
    const struct option *const to = &work->options.at[slot->option + to_index];

    if (from_index == MUTA_NO_CANDIDATE)
        return to->cost;
    const struct slot *const before = &work->slots.at[step - 1];
    const struct option *const from = &work->options.at[before->option + from_index];
    int64_t price = to->cost + price_cadence(work, slot, from, to);
    if (slot->is_held && from->bass_class != to->bass_class)
        price += HELD_BASS;
    if (is_same(from, to))
        return price + (slot->is_split ? 0 : STUCK);
    /* What the composer did needs no rules. */
    if (from->is_old && to->is_old && !slot->is_split)
        return price;
    price += slot->is_split ? RESTLESS : 0;
    price += price_function(from, to) + price_goal(from, to) + price_bass(from, to) +
             price_root(from, to) + price_seventh(from, to);
    if (are_parallel(before, slot, from, to))
        return price + PARALLEL;
    price += leaves_leading(before, slot, from, to) ? LEADING_LEFT : 0;
    return price + (are_hidden(before, slot, from, to) ? HIDDEN : 0);
}

/* ---- the answer ---- */

/* Whether two answers differ in what sounds. */
static bool differ(const struct harmonising *work, const muta_answer *a, const muta_answer *b)
{
    for (size_t i = 0; i < work->slots.count; i++) {
        const struct option *const one = &work->options.at[work->slots.at[i].option + a->taken[i]];
        const struct option *const two = &work->options.at[work->slots.at[i].option + b->taken[i]];
        if (!is_same(one, two) || one->bass_class != two->bass_class)
            return true;
    }
    return false;
}

/* The pick-th of the answers that differ. */
static const muta_answer *choose(const struct harmonising *work, const muta_answer *answers,
                                 size_t found, size_t pick)
{
    const muta_answer *last = &answers[0];

    for (size_t i = 1; i < found && pick > 1; i++) {
        bool is_new = true;
        for (size_t j = 0; j < i && is_new; j++)
            is_new = differ(work, &answers[j], &answers[i]);
        if (!is_new)
            continue;
        last = &answers[i];
        pick--;
    }
    return last;
}

static muta_status search(struct harmonising *work, const muta_answer **answer)
{
    enum {
        ALIKE = 4 /* answers that may differ in name alone */
    };
    const muta_search how = {work, work->slots.count, count_options, price_option};
    const size_t wanted = work->call->pick == 1 ? 1 : work->call->pick * ALIKE;
    muta_answer *const answers = muta_arena_take_array(&work->arena, wanted, sizeof *answers);
    size_t found;

    if (!answers)
        return MUTA_E_MEMORY;
    MUTA_TRY(muta_search_best(&work->arena, &how, wanted, answers, &found));
    if (found == 0)
        return MUTA_E_FAULT;
    *answer = choose(work, answers, found, work->call->pick);
    return MUTA_OK;
}

static muta_passage_chord chord_of(const struct slot *slot, const struct option *option)
{
    muta_passage_chord chord = *slot->old;
    const bool stays = is_same(option, &(struct option){.root = slot->old->root,
                                                        .chord = {.kind = slot->old->kind}}) &&
                       option->bass == slot->old->bass;

    chord.from = slot->from;
    chord.to = slot->to;
    if (stays)
        return chord;
    chord.root = option->root;
    chord.kind = option->chord.kind;
    chord.bass = option->bass;
    chord.is_written = false;
    muta_numeral_set(&chord);
    return chord;
}

static muta_status take(struct harmonising *work, const muta_answer *answer)
{
    muta_passage *const out = work->call->out;
    muta_passage_chord *const chords =
        muta_arena_take_array(&work->arena, work->slots.count + 1, sizeof *chords);

    if (!chords)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < work->slots.count; i++)
        chords[i] = chord_of(&work->slots.at[i],
                             &work->options.at[work->slots.at[i].option + answer->taken[i]]);
    return muta_passage_set_chords(out, chords, work->slots.count);
}

static bool has_symbols(const muta_passage *passage)
{
    for (size_t i = 0; i < passage->chord_count; i++)
        if (passage->chords[i].is_written)
            return true;
    return false;
}

static bool has_accompaniment(const muta_texture *work)
{
    for (size_t i = 0; i < work->tone_count; i++)
        if (!work->tones[i].is_tune && !work->tones[i].is_fixed)
            return true;
    return false;
}

static muta_status harmonise(struct harmonising *work)
{
    muta_passage *const out = work->call->out;
    const muta_answer *answer;

    MUTA_TRY(find_slots(work));
    if (work->slots.count == 0)
        return MUTA_OK;
    hear_tune(work);
    hear_bass(work);
    MUTA_TRY(find_options(work));
    MUTA_TRY(search(work, &answer));
    MUTA_TRY(take(work, answer));
    const bool rewrites = work->args->figuration == REWRITE && has_accompaniment(&work->work);
    if (!rewrites || has_symbols(work->call->in))
        out->says |= MUTA_SAYS_SYMBOLS;
    return rewrites ? muta_refigure(work->call->in, out) : MUTA_OK;
}

static muta_status run(const muta_call *call)
{
    struct harmonising work = {
        .call = call, .args = call->args, .work = muta_passage_work(call->in)};
    const muta_fraction thousandths = muta_fraction_scale(work.args->stray, 1000);

    MUTA_TRY(muta_passage_append(call->out, call->in, MUTA_ZERO, NULL));
    work.stray = thousandths.top / thousandths.bottom;
    muta_status status = find_tune(&work);
    if (status == MUTA_OK && work.tune.count > 0)
        status = harmonise(&work);
    muta_arena_clear(&work.arena);
    return status;
}

const muta_pass muta_pass_reharmonise = {
    .name = "reharmonise",
    .group = "harmony",
    .summary = "other chords under the same tune",
    .keeps = "the tune, the first and the last chord, how phrases end, the figures",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_EVERYTHING,
    .finds_work = true,
    .needs_study = true,
    .keeps_chords = true,
    .searches = true,
    .run = run,
};
