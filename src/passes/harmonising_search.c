/* harmonising_search.c: what it costs to go from chord to chord, and the cheapest way. */
#include "passes/harmonising.h"
#include "study/heard.h"
#include <stdlib.h>

/* Costs in thousandths; set by hand. */
enum {
    SHARE = 300,      /* of what rules of part-writing weigh, in thousandths */
    HELD_BASS = 6000, /* the bass changes where it was held on */
    NO_GOAL = 4000,   /* a chord that leads does not reach its goal */
    BACKWARD = 2000,  /* from the dominant to the subdominant */
    PLAGAL = 700,
    SAME_FUNCTION = 300,
    SIMILAR = 200,        /* bass and tune go the same way */
    STUCK = 900,          /* the chord does not change where it did, */
    STUCK_NEW = 2000,     /* for a new one */
    RESTLESS = 300,       /* it changes where it did not */
    TURNED = 2000,        /* it changes where only its bass did */
    HELD_ASTRAY = 4000,   /* a tone that is held between it and one that stays, and is not in it */
    HELD = 2000,          /* a tone is held into a chord that shares none with the one before */
    SIX_FOUR_LEFT = 5000, /* by leap */
    SEVENTH_LEFT = 2000,  /* a seventh that has no tone to fall to */
    CADENTIAL = 300,      /* a six-four before its dominant */
    NO_CADENCE = 9000,    /* the end of a phrase is another than it was */
    ASTRAY = 30000,       /* what goes to another key does not arrive */
    UNMET = 8000,         /* a phrase does not end in the way that was asked for */
    DECEPTIVE = 2500,
    WEAK_APPROACH = 1500, /* the tonic at the end of a phrase without its dominant before */
    TRITONE_LEAP = 700,
    LEFT_OPEN = 2500,      /* what the composer's dissonance goes to is not there */
    FALSE_RELATION = 1000, /* one chord has another form of a tone of the next */
    STEP_LOST = 1200,      /* the bass leaps where it went by step */
};

/* Semitones up from one pitch class to another. */
static int up_from(int from, int to)
{
    return to < from ? to - from + 12 : to - from;
}

static int64_t price_function(const struct muta_harmonised_option *from,
                              const struct muta_harmonised_option *to)
{
    static const int16_t prices[3][3] = {
        [MUTA_FUNCTION_TONIC] = {SAME_FUNCTION, 0, 100},
        [MUTA_FUNCTION_SUBDOMINANT] = {PLAGAL, SAME_FUNCTION, 0},
        [MUTA_FUNCTION_DOMINANT] = {0, BACKWARD, SAME_FUNCTION},
    };

    /* What has a goal of its own goes there. */
    if (from->of.goal == to->of.value.root)
        return 0;
    return prices[from->of.function][to->of.function];
}

static bool is_six_four(const struct muta_harmonised_option *option)
{
    return option->value.bass == 2 && option->of.value.root == 0 &&
           option->of.function == MUTA_FUNCTION_TONIC;
}

static bool is_dominant(const struct muta_harmonised_option *option)
{
    return option->of.value.root == 1 && option->of.function == MUTA_FUNCTION_DOMINANT;
}

/* A chord that leads reaches its goal, or a six-four before it, or stays on the same root. */
static int64_t price_goal(const struct muta_harmonised_option *from,
                          const struct muta_harmonised_option *to)
{
    const int32_t goal = from->of.goal;

    const bool same_root = from->root_class == to->root_class;

    /* What was a dominant does not fade into the minor. */
    if (same_root && muta_chord_is_dominant(from->value.kind) &&
        !muta_chord_is_dominant(to->value.kind))
        return NO_GOAL;
    /* The dominant behind the six-four comes not before it. */
    if (is_dominant(from) && is_six_four(to))
        return BACKWARD;
    if (goal == MUTA_NO_GOAL || same_root)
        return 0;
    if (to->of.value.root == goal || (goal == 1 && is_six_four(to)))
        return -PLAGAL;
    return NO_GOAL;
}

static int64_t price_bass(const struct muta_harmonised_option *from,
                          const struct muta_harmonised_option *to)
{
    const int moves = up_from(from->bass_class, to->bass_class);
    const int64_t price = moves == 6 ? TRITONE_LEAP : 0;
    const bool falls = moves == 0 || moves >= 10; /* by step, or stays */
    const bool steps = falls || moves <= 2;

    if (is_six_four(from))
        return price +
               (is_dominant(to) && moves == 0 ? CADENTIAL - MUTA_SECOND_INVERSION : NO_GOAL);
    if (from->value.bass == 3)
        return price + (falls ? 0 : muta_rule_price(MUTA_RULE_SEVENTH, SHARE));
    return price + (from->value.bass == 2 && !steps ? SIX_FOUR_LEFT : 0);
}

/* A seventh stays, or has a tone a step below it in the next chord; in the tune it goes there. */
static int64_t price_seventh(const struct muta_harmonised_slot *before,
                             const struct muta_harmonised_slot *slot,
                             const struct muta_harmonised_option *from,
                             const struct muta_harmonised_option *to)
{
    const int seventh = from->seventh;

    if (seventh == MUTA_NO_CLASS || muta_harmonised_has(to, seventh))
        return 0;
    if (before->tune && slot->tune && before->tune_class == seventh)
        return muta_seventh_is_left(slot->tune - before->tune) ? SEVENTH_LEFT : 0;
    return muta_harmonised_has(to, seventh - 1) || muta_harmonised_has(to, seventh - 2)
               ? 0
               : SEVENTH_LEFT;
}

static int64_t price_root(const struct muta_harmonised_option *from,
                          const struct muta_harmonised_option *to)
{
    static const int16_t prices[12] = {700,  700, 400, 500, 400, 0,
                                       1400, 400, 300, 200, 600, 700}; /* semitones up */

    return prices[up_from(from->root_class, to->root_class)];
}

static bool is_same(const struct muta_harmonised_option *a, const struct muta_harmonised_option *b)
{
    return a->root_class == b->root_class && a->value.kind == b->value.kind;
}

/* Fifths or octaves of the tune and the bass. */
static int64_t price_parallel(const struct muta_harmonised_slot *before,
                              const struct muta_harmonised_slot *slot,
                              const struct muta_harmonised_option *from,
                              const struct muta_harmonised_option *to)
{
    return before->last && slot->tune ? muta_parallel_price(before->last_class, slot->tune_class,
                                                            from->bass_class, to->bass_class, SHARE)
                                      : 0;
}

/* Whether the tune leaps to a fifth or an octave over a bass that goes the same way, as far as it
 * goes the nearest way. */
static bool are_hidden(const struct muta_harmonised_slot *before,
                       const struct muta_harmonised_slot *slot,
                       const struct muta_harmonised_option *from,
                       const struct muta_harmonised_option *to)
{
    const int up = up_from(from->bass_class, to->bass_class);

    return before->last && slot->tune &&
           muta_semitones_hidden(before->last, slot->tune, to->bass_class - (up < 6 ? up : up - 12),
                                 to->bass_class);
}

/* Whether the leading tone, in the bass or the tune, does not rise to its tonic. */
static bool leaves_leading(const struct muta_harmonised_slot *before,
                           const struct muta_harmonised_slot *slot,
                           const struct muta_harmonised_option *from,
                           const struct muta_harmonised_option *to)
{
    const int was = from->leading;
    const int tonic = to->root_class;

    if (was == MUTA_NO_CLASS || up_from(was, tonic) != 1)
        return false;
    return (from->bass_class == was && to->bass_class != tonic) ||
           (before->tune && slot->tune && before->tune_class == was &&
            slot->tune - before->tune != 1);
}

/* Whether a chord leads to the tonic. */
static bool leads_home(const struct muta_harmonised_option *option)
{
    return option->of.function == MUTA_FUNCTION_DOMINANT &&
           (option->of.goal == MUTA_NO_GOAL || option->of.goal == 0);
}

/* What goes to another key closes there. */
static int64_t price_arrival(const struct muta_harmonised_option *from,
                             const struct muta_harmonised_option *to)
{
    const bool is_home =
        to->of.value.root == 0 && to->value.bass == 0 && to->seventh == MUTA_NO_CLASS;

    if (!is_home)
        return ASTRAY;
    if (!from || (is_dominant(from) && from->value.bass == 0))
        return 0;
    return !leads_home(from) ? NO_CADENCE : is_dominant(from) ? WEAK_APPROACH / 2 : WEAK_APPROACH;
}

/* Whether a phrase ends in the way that was asked for. */
static bool ends_as_asked(muta_cadences cadences, const struct muta_harmonised_option *from,
                          const struct muta_harmonised_option *to)
{
    const int32_t root = to->of.value.root;

    if (!from || to->value.bass != 0 || to->seventh != MUTA_NO_CLASS)
        return false;
    switch (cadences) {
    case MUTA_CADENCES_DECEPTIVE:
        return is_dominant(from) && root != 0 && to->of.function == MUTA_FUNCTION_TONIC;
    case MUTA_CADENCES_HALF:
        return is_dominant(to);
    case MUTA_CADENCES_PLAGAL:
        return root == 0 && from->of.function == MUTA_FUNCTION_SUBDOMINANT;
    case MUTA_CADENCES_KEEP:
    default:
        return true;
    }
}

/* The end of a phrase stays what it was: on the tonic, with its dominant before, or open on that.
 */
static int64_t price_cadence(const struct muta_harmonising *work,
                             const struct muta_harmonised_slot *slot,
                             const struct muta_harmonised_option *from,
                             const struct muta_harmonised_option *to)
{
    const int32_t was = slot->old->value.root - slot->old->tonic;

    if (slot->is_close && slot->is_abroad)
        return price_arrival(from, to);
    if (muta_harmonising_ends_otherwise(work, slot))
        return ends_as_asked(work->cadences, from, to) ? 0 : to->is_old ? UNMET : 2 * UNMET;
    if (!slot->is_close || (was != 0 && was != 1))
        return 0;
    if (to->of.value.root != was)
        return was == 0 && to->of.function == MUTA_FUNCTION_TONIC
                   ? DECEPTIVE * (1000 - work->stray) / 1000
                   : NO_CADENCE;
    if (was != 0 || !from || from->is_old || leads_home(from))
        return 0;
    const int32_t before = slot[-1].old->value.root - slot[-1].old->tonic;
    return before == 1 || before == 5 ? NO_CADENCE : WEAK_APPROACH;
}

/* Whether the bass can stay as it is held: beside a chord that stays it is what it was. */
static bool holds_bass(const struct muta_harmonised_slot *slot,
                       const struct muta_harmonised_option *from,
                       const struct muta_harmonised_option *to)
{
    if (from->is_old == to->is_old)
        return from->is_old || from->bass_class == to->bass_class;
    return (from->is_old ? to->bass_class : from->bass_class) == slot->held_bass;
}

static int64_t count_tones(unsigned tones)
{
    int64_t count = 0;

    for (; tones; tones &= tones - 1)
        count++;
    return count;
}

/* What is held can stay where the two chords share a tone; beside a chord that stays it is the very
 * tone that was held. */
static int64_t price_held(const struct muta_harmonised_slot *slot,
                          const struct muta_harmonised_option *from,
                          const struct muta_harmonised_option *to)
{
    if (slot->held == 0)
        return 0;
    if (from->is_old || to->is_old)
        return HELD_ASTRAY *
               count_tones(slot->held_tones & ~(from->is_old ? to->tones : from->tones));
    const int64_t shared = count_tones(from->tones & to->tones);
    return slot->held > shared ? (slot->held - shared) * HELD : 0;
}

/*
 * What it costs under a line alone that a chord stands, that its bass alone moves, and that another
 * comes, by the strength of the moment: chords change with the bars, in a chorale with the beats.
 */
static int64_t price_pace(const struct muta_harmonising *work,
                          const struct muta_harmonised_slot *slot,
                          const struct muta_harmonised_option *from,
                          const struct muta_harmonised_option *to)
{
    static const int16_t prices[3][3][3] = {
        [MUTA_CHORD_A_BAR] = {{300, 400, 0}, {0, 700, 500}, {0, 1200, 1400}},
        [MUTA_CHORD_A_HALF] = {{600, 600, 0}, {200, 400, 0}, {0, 500, 500}},
        [MUTA_CHORD_A_BEAT] = {{900, 750, 0}, {300, 450, 0}, {300, 450, 0}},
    };
    const int how = !is_same(from, to) ? 2 : from->bass_class != to->bass_class;
    const bool leads = slot + 1 < work->slots.at + work->slots.count && slot[1].is_close;

    if (slot->is_after && how > 0)
        return NO_CADENCE;
    /* What leads to a close may come at the last moment. */
    return leads && how == 2 ? 0 : prices[work->pace][slot->level][how];
}

/* How the bass goes, and against the tune. */
static int64_t price_line(const struct muta_harmonised_slot *before,
                          const struct muta_harmonised_slot *slot,
                          const struct muta_harmonised_option *from,
                          const struct muta_harmonised_option *to)
{
    static const int16_t prices[7] = {350, 0, 0, 150, 200, 150, 0}; /* semitones, the nearest way */
    const int up = up_from(from->bass_class, to->bass_class);
    const int way = up > 6 ? up - 12 : up;
    const int tune = before->last && slot->tune ? slot->tune - before->last : 0;

    return prices[abs(way)] + ((tune > 0 && way > 0) || (tune < 0 && way < 0) ? SIMILAR : 0);
}

/* A tune alone ends on what it ends on itself, if that is a triad of the key, led to by its
 * dominant; else on the tonic. */
static int64_t price_end(const struct muta_harmonised_slot *slot,
                         const struct muta_harmonised_option *from,
                         const struct muta_harmonised_option *to)
{
    const bool is_dominant_of =
        from->value.root == to->value.root + 1 &&
        (from->value.kind == MUTA_CHORD_MAJOR || from->value.kind == MUTA_CHORD_DOMINANT);
    const int64_t approach = !is_dominant_of         ? 2 * WEAK_APPROACH
                             : from->value.bass != 0 ? WEAK_APPROACH / 2
                                                     : 0;
    const bool is_plain =
        to->of.goal == MUTA_NO_GOAL && to->seventh == MUTA_NO_CLASS &&
        (to->value.kind == MUTA_CHORD_MAJOR || to->value.kind == MUTA_CHORD_MINOR);

    if (is_plain && muta_semitones_class(slot->last) == to->root_class)
        return approach;
    if (to->of.value.root == 0 && is_plain)
        return DECEPTIVE + approach;
    return (int64_t)2 * NO_CADENCE;
}

/* Whether it is the first behind a pick-up. */
static bool opens(const struct muta_harmonising *work, const struct muta_harmonised_slot *slot)
{
    const struct muta_harmonised_slot *before = slot;

    if (slot->level != MUTA_LEVEL_BAR)
        return false;
    while (before > work->slots.at && before[-1].level != MUTA_LEVEL_BAR)
        before--;
    return before == work->slots.at;
}

/* A phrase of a line alone closes on the tonic, led to, or opens on the dominant; the last one
 * closes. */
static int64_t price_close(const struct muta_harmonising *work,
                           const struct muta_harmonised_slot *slot,
                           const struct muta_harmonised_option *from,
                           const struct muta_harmonised_option *to)
{
    const int32_t root = to->of.value.root;

    if (!from || opens(work, slot))
        return (to->value.bass == 0 ? 0 : WEAK_APPROACH) + (root == 0   ? 0
                                                            : root == 1 ? WEAK_APPROACH / 2
                                                                        : WEAK_APPROACH);
    if (!slot->is_close)
        return 0;
    if (to->value.bass != 0 && work->alone == MUTA_ALONE_TUNE)
        return NO_CADENCE;
    if (slot + 1 == work->slots.at + work->slots.count)
        return price_end(slot, from, to);
    if (root == 0 && to->of.function == MUTA_FUNCTION_TONIC)
        return leads_home(from) ? from->value.bass == 0 ? 0 : DECEPTIVE / 4 : 2 * WEAK_APPROACH;
    if ((root == 1 || from->of.goal == root) && to->seventh == MUTA_NO_CLASS)
        return DECEPTIVE / 2;
    return to->of.function == MUTA_FUNCTION_TONIC && leads_home(from) ? DECEPTIVE : NO_CADENCE / 2;
}

/* From one chord to another. */
static int64_t price_move(const struct muta_harmonised_slot *before,
                          const struct muta_harmonised_slot *slot,
                          const struct muta_harmonised_option *from,
                          const struct muta_harmonised_option *to)
{
    return price_function(from, to) + price_goal(from, to) + price_bass(from, to) +
           price_root(from, to) + price_seventh(before, slot, from, to);
}

/* The bass against the tune. */
static int64_t price_against(const struct muta_harmonised_slot *before,
                             const struct muta_harmonised_slot *slot,
                             const struct muta_harmonised_option *from,
                             const struct muta_harmonised_option *to)
{
    const int64_t parallel = price_parallel(before, slot, from, to);

    if (parallel > 0)
        return parallel;
    return (leaves_leading(before, slot, from, to) ? muta_rule_price(MUTA_RULE_LEADING, SHARE)
                                                   : 0) +
           (are_hidden(before, slot, from, to) ? muta_rule_price(MUTA_RULE_HIDDEN, SHARE) : 0);
}

/* A chord under a line alone; one that stands is paid for once. */
static int64_t price_alone(const struct muta_harmonising *work,
                           const struct muta_harmonised_slot *slot,
                           const struct muta_harmonised_option *from,
                           const struct muta_harmonised_option *to)
{
    const struct muta_harmonised_slot *const before = slot - 1;

    if (!from)
        return to->cost + price_close(work, slot, NULL, to);
    int64_t price = price_close(work, slot, from, to) + price_pace(work, slot, from, to);
    if (from->anticipates && !muta_harmonised_has(to, from->anticipates))
        price += MUTA_UNNAMED;
    if (is_same(from, to) && from->bass_class == to->bass_class)
        return price + (work->pace == MUTA_CHORD_A_BEAT ? to->cost : to->tune);
    price += to->cost;
    if (!is_same(from, to))
        price += price_move(before, slot, from, to);
    if (work->alone == MUTA_ALONE_BASS)
        return price;
    return price + price_line(before, slot, from, to) + price_against(before, slot, from, to);
}

/* Where a chord that stayed leads to another, its dissonances go where the composer let them. */
static int64_t price_due(const struct muta_harmonised_slot *before,
                         const struct muta_harmonised_option *from,
                         const struct muta_harmonised_option *to)
{
    return from->is_old && !to->is_old ? LEFT_OPEN * count_tones(before->due & ~to->tones) : 0;
}

/* Whether a tone of one chord is another form of one of the other. */
static bool are_false(const muta_chord *from, const muta_chord *to)
{
    const muta_chord_row *const one = muta_chord_row_of(from->kind);
    const muta_chord_row *const other = muta_chord_row_of(to->kind);

    for (uint8_t i = 0; i < one->count; i++)
        for (uint8_t j = 0; j < other->count; j++)
            if (abs((int)(from->root + one->fifths[i] - to->root - other->fifths[j])) == 7)
                return true;
    return false;
}

/* Semitones the nearest way between the basses of two chords. */
static int bass_moves(const muta_chord *from, const muta_chord *to)
{
    const int up =
        up_from(muta_fifths_class(from->root + muta_chord_row_of(from->kind)->fifths[from->bass]),
                muta_fifths_class(to->root + muta_chord_row_of(to->kind)->fifths[to->bass]));

    return up > 6 ? 12 - up : up;
}

/* What the composer had made of the way from chord to chord, and is lost. */
static int64_t price_lost(const struct muta_harmonised_slot *before,
                          const struct muta_harmonised_slot *slot,
                          const struct muta_harmonised_option *from,
                          const struct muta_harmonised_option *to)
{
    const int was = bass_moves(&before->old->value, &slot->old->value);
    const bool stepped = was == 1 || was == 2;

    return price_due(before, from, to) +
           (are_false(&from->value, &to->value) ? FALSE_RELATION : 0) +
           (stepped && bass_moves(&from->value, &to->value) > 2 ? STEP_LOST : 0);
}

static uint32_t count_options(void *context, size_t step)
{
    const struct muta_harmonising *const work = context;

    return (uint32_t)work->slots.at[step].count;
}

/* A chord by itself, as far as answers are to stray and to differ. */
static int64_t price_itself(const struct muta_harmonising *work,
                            const struct muta_harmonised_option *option)
{
    return option->cost - work->drive * option->strays / 1000 + work->apart * option->takers;
}

/* A chord that does not change where it did. */
static int64_t price_stuck(const struct muta_harmonising *work,
                           const struct muta_harmonised_slot *slot,
                           const struct muta_harmonised_option *from,
                           const struct muta_harmonised_option *to)
{
    if (slot->is_split || slot->is_turned)
        return 0;
    return work->is_anew || (from->is_old && to->is_old) ? STUCK : STUCK_NEW;
}

/* What was laid down for the bass and the tune between two chords. */
static int64_t price_bound(const struct muta_harmonising *work,
                           const struct muta_harmonised_slot *slot,
                           const struct muta_harmonised_option *from,
                           const struct muta_harmonised_option *to)
{
    int64_t price = slot->is_held && !holds_bass(slot, from, to) ? HELD_BASS : 0;

    if (from->anticipates && !muta_harmonised_has(to, from->anticipates))
        price += from->is_old ? muta_harmonising_licence(work) : MUTA_UNNAMED;
    return price;
}

static int64_t price_option(void *context, size_t step, uint32_t from_index, uint32_t to_index)
{
    const struct muta_harmonising *const work = context;
    const struct muta_harmonised_slot *const slot = &work->slots.at[step];

    if (!work->options.at)
        return MUTA_FORBIDDEN;
    const struct muta_harmonised_option *const to = &work->options.at[slot->option + to_index];

    if (from_index == MUTA_NO_CANDIDATE)
        return work->alone ? price_alone(work, slot, NULL, to) : price_itself(work, to);
    const struct muta_harmonised_slot *const before = &work->slots.at[step - 1];
    const struct muta_harmonised_option *const from =
        &work->options.at[before->option + from_index];
    if (work->alone)
        return price_alone(work, slot, from, to);
    int64_t price = price_itself(work, to) + price_cadence(work, slot, from, to) +
                    price_bound(work, slot, from, to);
    if (is_same(from, to))
        return price + price_stuck(work, slot, from, to);
    /* What the composer did needs no rules. */
    if (from->is_old && to->is_old && !slot->is_split)
        return price + (work->is_anew ? price_parallel(before, slot, from, to) : 0);
    price += slot->is_turned ? TURNED : slot->is_split ? RESTLESS : 0;
    price += price_held(slot, from, to);
    if (!work->is_anew)
        price += price_lost(before, slot, from, to) * (1000 - work->stray) / 1000;
    return price + price_move(before, slot, from, to) + price_against(before, slot, from, to);
}

muta_status muta_harmonising_best(struct muta_harmonising *work, const muta_answer **answer)
{
    const muta_search how = {work, work->slots.count, count_options, price_option};
    muta_answer *const best = muta_arena_take_array(&work->arena, 1, sizeof *best);
    size_t found;

    if (!best)
        return MUTA_E_MEMORY;
    MUTA_TRY(muta_search_best(&work->arena, &how, 1, best, &found));
    *answer = best;
    return found > 0 ? MUTA_OK : MUTA_E_FAULT;
}
