/* historic.c: a passage over a historic ground. */
#include "passes/historic.h"
#include "base/search.h"
#include "base/vec.h"
#include "passes/discant.h"
#include "passes/refigure.h"
#include "score/sense.h"
#include "study/study.h"
#include <stdlib.h>
#include <string.h>

/* Costs in thousandths of a bar that does not fit at all; set by hand. */
enum {
    BARS = 64,            /* of more the order is not sought: they go on as they are */
    FAR_BEGINNING = 5000, /* it does not begin with the first bar */
    GOES_ROUND = 200,     /* from the last bar to the first */
    FROM_PHRASE = 1500,   /* from the end of a phrase to the beginning of another */
    CUT = 6000,           /* anywhere else */
    ROUND_OPEN = 600,     /* a round ends and no phrase does, */
    END_OPEN = 3000       /* nor at the very end */
};

/* A tone of the tune. */
struct heard {
    muta_fraction onset;
    muta_fraction end;
    muta_pitch pitch;
    bool is_strong;
    bool closes; /* a phrase */
};

/* A bar of the passage in which the tune is heard. */
struct own_bar {
    muta_fraction from;
    muta_fraction to;
    size_t first; /* of the tune's tones, that begins in it or behind */
    bool begins;  /* a phrase */
    bool ends;
};

struct laying {
    muta_historic *historic;
    const muta_call *call;
    const muta_ground *ground;
    muta_texture work;
    muta_arena *arena;
    const muta_line *bass;
    bool has_tune;
    MUTA_VEC(muta_fraction) bars; /* where each begins behind a pick-up, and the end of the last */
    MUTA_VEC(struct heard) tune;  /* in order of time */
    MUTA_VEC(struct own_bar) own;
    muta_fraction bar;                   /* the length of a full one */
    muta_fraction pickup;                /* what stands before the first down-beat */
    MUTA_VEC(muta_passage_chord) chords; /* of all rounds */
    int64_t *misfits;                    /* by own bar and bar of the ground, thousandths */
    uint32_t *taken;                     /* by bar of all rounds: which of the own */
};

/* ---- bars ---- */

static muta_status push_bar(struct laying *laying, muta_fraction at)
{
    muta_fraction *const bar = MUTA_PUSH(laying->arena, &laying->bars);

    if (!bar)
        return MUTA_E_MEMORY;
    *bar = at;
    return MUTA_OK;
}

/* The bars of the passage; the last may be short, where the first is a pick-up. */
static muta_status find_bars(struct laying *laying)
{
    const muta_passage *const in = laying->call->in;
    const muta_fraction length = muta_passage_length(in);
    muta_fraction at = MUTA_ZERO;
    muta_beat beat;

    muta_passage_beat_at(in, at, &beat);
    laying->pickup = beat.bar.top < 0 ? beat.end : MUTA_ZERO;
    if (muta_fraction_compare(laying->pickup, length) >= 0)
        laying->pickup = MUTA_ZERO;
    laying->bar = length;
    for (at = laying->pickup; muta_fraction_compare(at, length) < 0;) {
        MUTA_TRY(push_bar(laying, at));
        muta_passage_beat_at(in, at, &beat);
        if (laying->bars.count == 1)
            laying->bar = muta_fraction_subtract(beat.end, at);
        at = muta_fraction_compare(beat.end, at) > 0 ? beat.end : length;
    }
    return push_bar(laying, length);
}

/* Where the nth bar begins, from 0; behind the passage go full ones, and where all parts are in it
 * its last bar is filled up first. */
static muta_fraction bar_at(const struct laying *laying, size_t nth)
{
    const bool is_filled = laying->bars.count > 1 && muta_passage_has_own_grid(laying->call->in);
    const size_t last = laying->bars.count - 1 - is_filled;

    if (nth <= last)
        return laying->bars.at[nth];
    return muta_fraction_add(laying->bars.at[last],
                             muta_fraction_scale(laying->bar, (int64_t)(nth - last)));
}

/* Whether a ground leads on as it ends, so that its first chord is to close it at last. */
static bool leads_on(const muta_ground *ground)
{
    const muta_chord *const last = &ground->chords[ground->count - 1].value;

    return ground->chords[0].value.root == 0 && (last->root != 0 || last->bass != 0);
}

/* Whether the passage ends as much before a bar line as its pick-up fills. */
static bool is_complement(const struct laying *laying)
{
    const size_t last = laying->bars.count - 1;
    const muta_fraction lasts =
        muta_fraction_subtract(laying->bars.at[last], laying->bars.at[last - 1]);

    return laying->pickup.top > 0 && last > 1 &&
           muta_fraction_compare(muta_fraction_add(lasts, laying->pickup), laying->bar) == 0;
}

static size_t round_bars(const struct laying *laying)
{
    return (size_t)laying->historic->times * laying->ground->bars;
}

/* Of all rounds, and what closes them. */
static size_t bar_count(const struct laying *laying)
{
    return round_bars(laying) + leads_on(laying->ground);
}

/* Where nothing else sounds the bass counts as the tune: over a ground it is none. */
static bool is_tune(const struct laying *laying, const muta_tone *tone)
{
    return laying->historic->is_alone || (tone->is_tune && !(tone->is_bass && laying->bass));
}

static void name_tune(const struct laying *laying, muta_passage *plain)
{
    for (size_t i = 0; i < plain->work.tones.count; i++) {
        muta_tone *const tone = &plain->work.tones.at[i];
        tone->is_tune = is_tune(laying, tone);
    }
}

/* A tone of what accompanies, to be put in order of time. */
struct below {
    muta_fraction onset;
    muta_fraction end;
    int semitones;
    uint32_t tone;
};

static int below_in_order(const void *a, const void *b)
{
    const struct below *const one = a;
    const struct below *const two = b;
    const int by_time = muta_fraction_compare(one->onset, two->onset);

    return by_time != 0 ? by_time : one->semitones - two->semitones;
}

/* What lies lowest as it begins is the bass: the ground is to be heard there. */
static muta_status name_bass(struct laying *laying, muta_passage *plain)
{
    MUTA_VEC(struct below) below = {0};
    size_t first = 0;

    for (uint32_t i = 0; i < plain->work.tones.count; i++) {
        muta_tone *const tone = &plain->work.tones.at[i];
        const muta_event *const event = &plain->work.events.at[tone->event];
        tone->is_bass = false;
        if (tone->is_tune || tone->is_fixed || event->is_grace || event->is_cue)
            continue;
        struct below *const added = MUTA_PUSH(laying->arena, &below);
        if (!added)
            return MUTA_E_MEMORY;
        *added = (struct below){event->onset, muta_fraction_add(event->onset, tone->duration),
                                muta_pitch_semitones(tone->pitch), i};
    }
    muta_sort(below.at, below.count, sizeof *below.at, below_in_order);
    for (size_t i = 0; i < below.count; i++) {
        bool is_lowest = true;
        while (first < i && muta_fraction_compare(below.at[first].end, below.at[i].onset) <= 0)
            first++;
        for (size_t j = first; j < i; j++)
            is_lowest =
                is_lowest && (muta_fraction_compare(below.at[j].end, below.at[i].onset) <= 0 ||
                              below.at[j].semitones >= below.at[i].semitones);
        plain->work.tones.at[below.at[i].tone].is_bass = is_lowest;
    }
    return MUTA_OK;
}

static int in_order(const void *a, const void *b)
{
    return muta_fraction_compare(((const struct heard *)a)->onset,
                                 ((const struct heard *)b)->onset);
}

static muta_status hear_tune(struct laying *laying)
{
    for (size_t i = 0; i < laying->work.tone_count; i++) {
        const muta_tone *const tone = &laying->work.tones[i];
        const muta_event *const event = &laying->work.events[tone->event];
        if (!is_tune(laying, tone) || !muta_texture_is_plain(&laying->work, tone->event))
            continue;
        struct heard *const heard = MUTA_PUSH(laying->arena, &laying->tune);
        if (!heard)
            return MUTA_E_MEMORY;
        *heard = (struct heard){event->onset, muta_fraction_add(event->onset, event->duration),
                                tone->pitch, event->level <= MUTA_LEVEL_HALF, event->closes};
    }
    muta_sort(laying->tune.at, laying->tune.count, sizeof *laying->tune.at, in_order);
    return MUTA_OK;
}

/* What the tune does in a bar; false when it rests. */
static bool hear_bar(const struct laying *laying, struct own_bar *bar)
{
    const struct heard *const tune = laying->tune.at;
    size_t at = bar->first;

    while (at < laying->tune.count && muta_fraction_compare(tune[at].onset, bar->from) < 0)
        at++;
    bar->first = at;
    for (; at < laying->tune.count && muta_fraction_compare(tune[at].onset, bar->to) < 0; at++)
        bar->ends = bar->ends || tune[at].closes;
    return at > bar->first || (at > 0 && muta_fraction_compare(tune[at - 1].end, bar->from) > 0);
}

/* Over a ground the tune does not wait: the bars of its rests are left out. */
static muta_status find_own(struct laying *laying)
{
    bool begins = true;
    size_t first = 0;

    for (size_t i = 0; i + 1 < laying->bars.count; i++) {
        struct own_bar bar = {laying->bars.at[i], laying->bars.at[i + 1], first, begins, false};
        const bool is_heard = hear_bar(laying, &bar);
        first = bar.first;
        begins = begins || !is_heard;
        if (!is_heard)
            continue;
        struct own_bar *const own = MUTA_PUSH(laying->arena, &laying->own);
        if (!own)
            return MUTA_E_MEMORY;
        *own = bar;
        begins = bar.ends;
    }
    if (laying->own.count > 0)
        laying->own.at[laying->own.count - 1].ends = true;
    return MUTA_OK;
}

/* Where all of it ends. */
static muta_fraction end_of(const struct laying *laying)
{
    const muta_fraction end = bar_at(laying, bar_count(laying));

    return is_complement(laying) ? muta_fraction_subtract(end, laying->pickup) : end;
}

/* ---- chords ---- */

/* The tonic where the passage begins, as it is heard, on the line of fifths. */
static int32_t find_tonic(const struct laying *laying, bool *is_minor)
{
    const muta_passage *const in = laying->call->in;
    muta_key key = {0, MUTA_MAJOR};

    if (in->chord_count > 0) {
        *is_minor = in->chords[0].is_minor;
        return in->chords[0].tonic;
    }
    (void)muta_passage_key(in, &key);
    *is_minor = muta_mode_is_minor(key.mode);
    return key.fifths + (*is_minor ? 3 : 0);
}

/* The mode of a ground is that of its first or its last chord. */
static bool is_minor(const muta_ground *ground)
{
    return ground->chords[0].value.kind == MUTA_CHORD_MINOR ||
           ground->chords[ground->count - 1].value.kind == MUTA_CHORD_MINOR;
}

/* Where a part of a bar begins: of two, the second comes late in triple time. */
static muta_fraction place_in_bar(const muta_beat *beat, muta_fraction length, uint8_t part,
                                  uint8_t parts)
{
    const muta_fraction beats = muta_fraction_divide(length, beat->beat);

    if (part == 0)
        return MUTA_ZERO;
    if (beats.bottom == 1 && beats.top % parts != 0 && beats.top > parts)
        return muta_fraction_scale(beat->beat, beats.top - (parts - part));
    return muta_fraction_multiply(length, muta_fraction_of(part, parts));
}

static muta_status add_chord(struct laying *laying, const muta_ground_chord *from, size_t bar,
                             int32_t tonic)
{
    muta_passage_chord *const chord = MUTA_PUSH(laying->arena, &laying->chords);
    const muta_fraction at = bar_at(laying, bar);
    const muta_fraction length = muta_fraction_subtract(bar_at(laying, bar + 1), at);
    muta_beat beat;

    if (!chord)
        return MUTA_E_MEMORY;
    muta_passage_beat_at(laying->call->in, at, &beat);
    *chord = (muta_passage_chord){
        .from = muta_fraction_add(at, place_in_bar(&beat, length, from->part, from->parts)),
        .to = bar_at(laying, bar + 1),
        .value = from->value,
        .tonic = tonic,
        .is_minor = is_minor(laying->ground)};
    chord->value.root += tonic;
    if (laying->chords.count > 1)
        chord[-1].to = chord->from;
    muta_numeral_set(chord);
    return MUTA_OK;
}

/* The ground on a tonic, in the metre of the passage: a bar a bar. */
static muta_status lay_chords(struct laying *laying, int32_t tonic)
{
    const muta_ground *const ground = laying->ground;

    laying->chords.count = 0;
    for (int64_t round = 0; round < laying->historic->times; round++)
        for (size_t i = 0; i < ground->count; i++)
            MUTA_TRY(add_chord(laying, &ground->chords[i],
                               (size_t)round * ground->bars + ground->chords[i].bar, tonic));
    if (leads_on(ground))
        MUTA_TRY(add_chord(laying, &ground->chords[0], round_bars(laying), tonic));
    laying->chords.at[laying->chords.count - 1].to = end_of(laying);
    return MUTA_OK;
}

static const muta_passage_chord *chord_at(const struct laying *laying, muta_fraction time)
{
    const muta_passage_chord *found = &laying->chords.at[0];

    for (size_t i = 0; i < laying->ground->count; i++)
        if (muta_fraction_compare(laying->chords.at[i].from, time) <= 0)
            found = &laying->chords.at[i];
    return found;
}

/* ---- which bars stand over which ---- */

/* Whether a pitch is of the ground's key; its leading tone too. */
static bool is_of_key(const muta_passage_chord *chord, muta_pitch pitch)
{
    const int32_t away = muta_pitch_fifths(pitch) - chord->tonic;

    return chord->is_minor ? (away >= -4 && away <= 2) || away == 5 : away >= -1 && away <= 5;
}

/* How little a bar of the tune fits a bar of the ground, in thousandths of its weight. */
static int64_t misfit(const struct laying *laying, const struct own_bar *bar, size_t nth)
{
    enum {
        STRONG = 4,
        ASTRAY = 2 /* out of the key */
    };
    const muta_fraction base = bar_at(laying, nth);
    int64_t all = 0;
    int64_t bad = 0;

    for (size_t i = bar->first; i < laying->tune.count; i++) {
        const struct heard *const tone = &laying->tune.at[i];
        if (muta_fraction_compare(tone->onset, bar->to) >= 0)
            break;
        const muta_fraction at =
            muta_fraction_add(base, muta_fraction_subtract(tone->onset, bar->from));
        const muta_passage_chord *const chord = chord_at(laying, at);
        const muta_fraction lasts =
            muta_fraction_scale(muta_fraction_subtract(tone->end, tone->onset), 1000);
        const int64_t weight =
            lasts.bottom > 0 ? lasts.top / lasts.bottom * (tone->is_strong ? STRONG : 1) : 0;
        all += weight * (1 + ASTRAY);
        bad += muta_passage_chord_has(chord, tone->pitch) ? 0 : weight;
        bad += is_of_key(chord, tone->pitch) ? 0 : weight * ASTRAY;
    }
    return all > 0 ? bad * 1000 / all : 0;
}

static muta_status find_misfits(struct laying *laying)
{
    const size_t bars = laying->ground->bars;

    laying->misfits =
        muta_arena_take_array(laying->arena, laying->own.count * bars + 1, sizeof *laying->misfits);
    if (!laying->misfits)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < laying->own.count; i++)
        for (size_t j = 0; j < bars; j++)
            laying->misfits[i * bars + j] = misfit(laying, &laying->own.at[i], j);
    return MUTA_OK;
}

static uint32_t count_own(void *context, size_t step)
{
    const struct laying *const laying = context;

    (void)step;
    return (uint32_t)laying->own.count;
}

static int64_t price_bar(void *context, size_t step, uint32_t from, uint32_t to)
{
    const struct laying *const laying = context;
    const size_t bars = laying->ground->bars;
    const struct own_bar *const own = laying->own.at;
    int64_t price = laying->misfits[to * bars + step % bars];

    if (!own[to].ends && step + 1 == bar_count(laying))
        price += END_OPEN;
    else if (!own[to].ends && (step + 1) % bars == 0)
        price += ROUND_OPEN;
    if (from == MUTA_NO_CANDIDATE)
        return price + (to == 0 ? 0 : FAR_BEGINNING);
    if (to == from + 1)
        return price;
    if (to == 0 && from + 1 == laying->own.count)
        return price + GOES_ROUND;
    return price + (own[from].ends && own[to].begins ? FROM_PHRASE : CUT);
}

/* The bars in the order that fits best. @param cost  [out] in thousandths */
static muta_status find_order(struct laying *laying, uint32_t **taken, int64_t *cost)
{
    const size_t count = bar_count(laying);
    const muta_search search = {laying, count, count_own, price_bar};
    muta_answer answer = {.cost = 0};
    size_t found = 0;

    *cost = 0;
    if (laying->own.count <= BARS) {
        MUTA_TRY(find_misfits(laying));
        MUTA_TRY(muta_search_best(laying->arena, &search, 1, &answer, &found));
    }
    *taken =
        found > 0 ? answer.taken : muta_arena_take_array(laying->arena, count + 1, sizeof **taken);
    if (!*taken)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < count; i++) {
        if (found == 0)
            (*taken)[i] = (uint32_t)(i % laying->own.count);
        *cost += misfit(laying, &laying->own.at[(*taken)[i]], i % laying->ground->bars);
    }
    return MUTA_OK;
}

/* On the tonic that is there; or, where the ground has the other mode, on that of the relative key,
 * if the tune fits that better. */
static muta_status find_fit(struct laying *laying)
{
    bool was_minor;
    const int32_t tonic = find_tonic(laying, &was_minor);
    const bool now_minor = is_minor(laying->ground);
    const int32_t other = was_minor == now_minor ? tonic : tonic + (now_minor ? 3 : -3);
    uint32_t *relative;
    int64_t cost;
    int64_t other_cost;

    MUTA_TRY(lay_chords(laying, tonic));
    if (laying->own.count == 0)
        return MUTA_OK;
    MUTA_TRY(find_order(laying, &laying->taken, &cost));
    if (other == tonic)
        return MUTA_OK;
    MUTA_TRY(lay_chords(laying, other));
    MUTA_TRY(find_order(laying, &relative, &other_cost));
    if (other_cost < cost)
        laying->taken = relative;
    else
        MUTA_TRY(lay_chords(laying, tonic));
    return MUTA_OK;
}

/* ---- the bars, one behind the other ---- */

static muta_fraction shortest(muta_fraction a, muta_fraction b)
{
    return muta_fraction_compare(a, b) < 0 ? a : b;
}

/* What of the passage from a moment on stands from another on in the result. */
struct piece {
    muta_fraction from;
    muta_fraction to;
    muta_fraction at;
};

typedef MUTA_VEC(struct piece) pieces;

static muta_status push_piece(struct laying *laying, pieces *list, struct piece piece)
{
    struct piece *const last = list->count > 0 ? &list->at[list->count - 1] : NULL;

    if (last && muta_fraction_compare(last->to, piece.from) == 0 &&
        muta_fraction_compare(
            muta_fraction_add(last->at, muta_fraction_subtract(last->to, last->from)), piece.at) ==
            0) {
        last->to = piece.to;
        return MUTA_OK;
    }
    struct piece *const added = MUTA_PUSH(laying->arena, list);
    if (!added)
        return MUTA_E_MEMORY;
    *added = piece;
    return MUTA_OK;
}

/* The bar of the passage that stands over a bar of the ground; where it is the short last one, the
 * pick-up of the next statement fills it. */
static muta_status push_bar_piece(struct laying *laying, pieces *list, size_t nth)
{
    const struct own_bar *const own = &laying->own.at[laying->taken[nth]];
    const muta_fraction at = bar_at(laying, nth);
    const muta_fraction room = muta_fraction_subtract(
        nth + 1 == bar_count(laying) ? end_of(laying) : bar_at(laying, nth + 1), at);
    const muta_fraction lasts = shortest(room, muta_fraction_subtract(own->to, own->from));
    const bool goes_round = nth + 1 < bar_count(laying) && laying->taken[nth + 1] == 0;

    MUTA_TRY(push_piece(laying, list,
                        (struct piece){own->from, muta_fraction_add(own->from, lasts), at}));
    if (goes_round && laying->pickup.top > 0 &&
        muta_fraction_compare(muta_fraction_add(lasts, laying->pickup), room) <= 0)
        MUTA_TRY(push_piece(
            laying, list,
            (struct piece){MUTA_ZERO, laying->pickup,
                           muta_fraction_subtract(bar_at(laying, nth + 1), laying->pickup)}));
    return MUTA_OK;
}

static muta_status find_pieces(struct laying *laying, pieces *list)
{
    if (laying->pickup.top > 0)
        MUTA_TRY(push_piece(laying, list, (struct piece){MUTA_ZERO, laying->pickup, MUTA_ZERO}));
    for (size_t i = 0; i < bar_count(laying); i++)
        MUTA_TRY(push_bar_piece(laying, list, i));
    return MUTA_OK;
}

/* The chords that stood over the pieces. */
static muta_status carry_chords(struct laying *laying, const pieces *list, muta_passage *laid)
{
    MUTA_VEC(muta_passage_chord) carried = {0};
    muta_passage_chord *chords;
    size_t count;

    MUTA_TRY(muta_passage_list_chords(laying->call->in, laying->arena, &chords, &count));
    for (size_t i = 0; i < list->count; i++)
        for (size_t j = 0; j < count; j++) {
            const struct piece *const piece = &list->at[i];
            const muta_fraction by = muta_fraction_subtract(piece->at, piece->from);
            const muta_fraction from = muta_fraction_max(chords[j].from, piece->from);
            const muta_fraction to = shortest(chords[j].to, piece->to);
            if (muta_fraction_compare(from, to) >= 0)
                continue;
            muta_passage_chord *const added = MUTA_PUSH(laying->arena, &carried);
            if (!added)
                return MUTA_E_MEMORY;
            *added = chords[j];
            added->from = muta_fraction_add(from, by);
            added->to = muta_fraction_add(to, by);
        }
    return muta_passage_set_chords(laid, carried.at, carried.count);
}

static muta_status lay_bars(struct laying *laying, muta_passage *laid)
{
    pieces list = {0};

    MUTA_TRY(find_pieces(laying, &list));
    for (size_t i = 0; i < list.count; i++)
        MUTA_TRY(muta_passage_append_part(laid, laying->call->in, list.at[i].from, list.at[i].to,
                                          list.at[i].at, NULL));
    laid->length = end_of(laying);
    MUTA_TRY(carry_chords(laying, &list, laid));
    return muta_passage_settle(laid);
}

/* ---- its end ---- */

static bool is_tune_event(const muta_passage *passage, uint32_t event)
{
    const muta_event *const of = &passage->work.events.at[event];

    for (uint32_t i = of->tone; i < of->tone + of->tone_count; i++)
        if (passage->work.tones.at[i].is_tune)
            return true;
    return false;
}

/* The last bar of all. */
struct close {
    muta_fraction from;
    muta_fraction to;
};

static bool is_in_close(const struct close *close, const muta_event *event)
{
    return muta_fraction_compare(event->onset, close->from) >= 0 &&
           muta_fraction_compare(event->onset, close->to) < 0;
}

/* Which event of a line fills the last bar, or MUTA_NO_SOURCE: the tune's first there; of what
 * accompanies what begins with it, if it does not run on. */
static uint32_t find_closing(const struct close *close, const muta_passage *laid,
                             const muta_line *line)
{
    enum {
        SLOW = 4 /* events a bar */
    };
    uint32_t found = MUTA_NO_SOURCE;
    size_t count = 0;

    for (uint32_t i = line->event; i < line->event + line->event_count; i++) {
        const muta_event *const event = &laid->work.events.at[i];
        if (!is_in_close(close, event) || event->is_grace)
            continue;
        count++;
        if (found == MUTA_NO_SOURCE)
            found = i;
        if (is_tune_event(laid, i))
            return i;
    }
    return count <= SLOW && found != MUTA_NO_SOURCE &&
                   muta_fraction_compare(laid->work.events.at[found].onset, close->from) == 0
               ? found
               : MUTA_NO_SOURCE;
}

/* A line, whose last bar is filled by one event where one is to. */
static muta_status close_line(const struct close *close, const muta_passage *laid, size_t nth,
                              muta_passage *plain)
{
    const muta_line *const line = &laid->work.lines.at[nth];
    const uint32_t closing = find_closing(close, laid, line);

    MUTA_TRY(muta_passage_begin_line(plain, laid, nth));
    for (uint32_t i = line->event; i < line->event + line->event_count; i++) {
        const muta_event *const event = &laid->work.events.at[i];
        const muta_fraction room = muta_fraction_subtract(close->from, event->onset);
        const bool closes = closing != MUTA_NO_SOURCE;
        if (i == closing)
            MUTA_TRY(muta_passage_put_event(plain, laid, i, close->from,
                                            muta_fraction_subtract(close->to, close->from)));
        else if (!closes || !is_in_close(close, event))
            MUTA_TRY(muta_passage_put_event(plain, laid, i, event->onset,
                                            closes && room.top > 0 &&
                                                    muta_fraction_compare(event->duration, room) > 0
                                                ? room
                                                : event->duration));
    }
    return MUTA_OK;
}

static muta_status close_lines(const struct laying *laying, const muta_passage *laid,
                               muta_passage *plain)
{
    const size_t last = bar_count(laying) - 1;
    const struct close close = {bar_at(laying, last), end_of(laying)};

    MUTA_TRY(muta_passage_begin(plain, laid));
    for (size_t i = 0; i < laid->work.lines.count; i++)
        MUTA_TRY(close_line(&close, laid, i, plain));
    MUTA_TRY(muta_passage_set_chords(plain, laid->chords, laid->chord_count));
    return muta_passage_settle(plain);
}

/* ---- over the ground ---- */

static int bass_class(const muta_chord *chord)
{
    const muta_chord_row *const row = muta_chord_row_of(chord->kind);

    return muta_fifths_class(chord->root + row->fifths[chord->bass]);
}

/* Which tone of a chord lies nearest to a pitch class. */
static uint8_t nearest_tone(const muta_chord *chord, int class)
{
    const muta_chord_row *const row = muta_chord_row_of(chord->kind);
    uint8_t best = 0;
    int least = INT32_MAX;

    for (uint8_t i = 0; i < row->count; i++) {
        const int away =
            muta_semitones_class(muta_fifths_class(chord->root + row->fifths[i]) - class);
        const int far = away > 6 ? 12 - away : away;
        if (far >= least)
            continue;
        least = far;
        best = i;
    }
    return best;
}

/* The bass of a later part of a chord goes through that as the old one went. */
static void move_bass(muta_passage_chord *part, const muta_passage_chord *first,
                      const muta_passage *plain)
{
    const muta_passage_chord *const was = muta_passage_chord_at(plain, first->from);
    const muta_passage_chord *const is = muta_passage_chord_at(plain, part->from);

    if (was && is)
        part->value.bass =
            nearest_tone(&part->value, bass_class(&first->value) + bass_class(&is->value) -
                                           bass_class(&was->value));
}

/* The ground's chords, parted where the old ones changed, so that each has its figures. */
static muta_status part_chords(struct laying *laying, const muta_passage *plain, muta_passage *led)
{
    MUTA_VEC(muta_passage_chord) parted = {0};

    for (size_t i = 0; i < laying->chords.count; i++) {
        muta_passage_chord chord = laying->chords.at[i];
        const muta_fraction to = chord.to;
        for (size_t j = 0; j <= plain->chord_count; j++) {
            const bool is_rest = j == plain->chord_count;
            if (!is_rest && (muta_fraction_compare(plain->chords[j].from, chord.from) <= 0 ||
                             muta_fraction_compare(plain->chords[j].from, to) >= 0))
                continue;
            muta_passage_chord *const added = MUTA_PUSH(laying->arena, &parted);
            if (!added)
                return MUTA_E_MEMORY;
            chord.to = is_rest ? to : plain->chords[j].from;
            if (muta_fraction_compare(chord.from, laying->chords.at[i].from) > 0)
                move_bass(&chord, &laying->chords.at[i], plain);
            *added = chord;
            chord.from = chord.to;
        }
    }
    return muta_passage_set_chords(led, parted.at, parted.count);
}

static muta_status lead_over(struct laying *laying, const muta_passage *plain, muta_passage *led)
{
    muta_historic *const historic = laying->historic;

    muta_passage_number_behind(led, plain);
    MUTA_TRY(muta_passage_append(led, plain, MUTA_ZERO, NULL));
    MUTA_TRY(muta_passage_set_chords(led, laying->chords.at, laying->chords.count));
    MUTA_TRY(muta_discant_lead(led, &historic->stayed, &historic->led));
    if (!laying->bass)
        return MUTA_OK;
    MUTA_TRY(part_chords(laying, plain, led));
    return muta_refigure(plain, led);
}

/* ---- the bass ---- */

/* The tone of the bass nearest to the one before; the line keeps to the middle of its range. */
static muta_pitch bass_pitch(const muta_passage_chord *chord, muta_pitch before, int middle)
{
    const int32_t fifths =
        chord->value.root + muta_chord_row_of(chord->value.kind)->fifths[chord->value.bass];
    muta_pitch best = muta_fifths_pitch(fifths, 2);
    int least = INT32_MAX;

    for (int octave = 1; octave <= 5; octave++) {
        const muta_pitch pitch = muta_fifths_pitch(fifths, octave);
        const int cost = 2 * abs(muta_pitch_semitones(pitch) - muta_pitch_semitones(before)) +
                         abs(muta_pitch_semitones(pitch) - middle);
        if (cost >= least)
            continue;
        least = cost;
        best = pitch;
    }
    return best;
}

/* How high the tones of the tune, or of the bass, lie on average, in semitones; 0: none. */
static int middle_of(const muta_texture *work, bool of_tune)
{
    int64_t sum = 0;
    int64_t count = 0;

    for (size_t i = 0; i < work->tone_count; i++) {
        const muta_tone *const tone = &work->tones[i];
        if (!(of_tune ? tone->is_tune : tone->is_bass) || tone->is_fixed)
            continue;
        sum += muta_pitch_semitones(tone->pitch);
        count++;
    }
    return count > 0 ? (int)(sum / count) : 0;
}

/* About which the ground goes: where the bass was, and well below the tune. */
static int bass_middle(const struct laying *laying)
{
    enum {
        MIDDLE = 36, /* C3 */
        BELOW = 19   /* semitones: an octave and a fifth */
    };
    const int bass = middle_of(&laying->work, false);
    const int tune = middle_of(&laying->work, true);
    const int middle = bass ? bass : MIDDLE;

    return laying->has_tune && tune && tune - BELOW < middle ? tune - BELOW : middle;
}

/* Whether a bass sounds, or begins, under a chord. */
static bool has_bass(const muta_passage *led, const muta_passage_chord *chord)
{
    for (size_t i = 0; i < led->work.tones.count; i++) {
        const muta_tone *const tone = &led->work.tones.at[i];
        const muta_fraction onset = led->work.events.at[tone->event].onset;
        if (tone->is_bass && muta_fraction_compare(onset, chord->to) < 0 &&
            muta_fraction_compare(muta_fraction_add(onset, tone->duration), chord->from) > 0)
            return true;
    }
    return false;
}

static muta_status put_bass(struct laying *laying, const muta_passage_chord *chord,
                            muta_pitch *before, muta_passage *made)
{
    *before = bass_pitch(chord, *before, bass_middle(laying));
    MUTA_TRY(muta_passage_put_new(made, chord->from, muta_fraction_subtract(chord->to, chord->from),
                                  before, 1));
    muta_event *const event = &muta_passage_events(made)[made->work.events.count - 1];
    event->level = MUTA_LEVEL_BAR;
    event->depth = 1;
    muta_passage_tones(made)[event->tone].is_bass = true;
    return MUTA_OK;
}

/* The line of the bass, with the ground where it would be silent under a chord. */
static muta_status put_bass_line(struct laying *laying, const muta_passage *led, size_t nth,
                                 muta_passage *made)
{
    const muta_line *const line = &led->work.lines.at[nth];
    muta_pitch before = {bass_middle(laying) * 7 / 12, 0};
    muta_fraction end = MUTA_ZERO;
    uint32_t event = line->event;

    MUTA_TRY(muta_passage_begin_line(made, led, nth));
    for (size_t i = 0; i <= laying->chords.count; i++) {
        const bool is_over = i == laying->chords.count;
        const muta_passage_chord *const chord = is_over ? NULL : &laying->chords.at[i];
        for (;
             event < line->event + line->event_count &&
             (is_over || muta_fraction_compare(led->work.events.at[event].onset, chord->from) < 0);
             event++) {
            const muta_event *const of = &led->work.events.at[event];
            end = muta_fraction_add(of->onset, of->duration);
            MUTA_TRY(muta_passage_put_event(made, led, event, of->onset, of->duration));
        }
        const bool is_free =
            !is_over && muta_fraction_compare(end, chord->from) <= 0 &&
            (event == line->event + line->event_count ||
             muta_fraction_compare(led->work.events.at[event].onset, chord->to) >= 0);
        if (is_free && !has_bass(led, chord))
            MUTA_TRY(put_bass(laying, chord, &before, made));
    }
    return MUTA_OK;
}

static muta_status put_line(const muta_passage *led, size_t nth, muta_passage *made)
{
    const muta_line *const line = &led->work.lines.at[nth];

    MUTA_TRY(muta_passage_begin_line(made, led, nth));
    for (uint32_t i = line->event; i < line->event + line->event_count; i++)
        MUTA_TRY(muta_passage_put_event(made, led, i, led->work.events.at[i].onset,
                                        led->work.events.at[i].duration));
    return MUTA_OK;
}

static bool has_line_tune(const muta_passage *led, size_t nth)
{
    const muta_line *const line = &led->work.lines.at[nth];

    for (uint32_t i = line->event; i < line->event + line->event_count; i++)
        if (is_tune_event(led, i))
            return true;
    return false;
}

/* The line in which the ground goes where there is no bass: the last without the tune; or none. */
static const muta_line *free_line(const struct laying *laying)
{
    for (size_t i = laying->work.line_count; i > 0; i--)
        if (!has_line_tune(laying->call->in, i - 1))
            return &laying->work.lines[i - 1];
    return NULL;
}

/* All lines; where there was no bass the tune's alone. */
static muta_status put_lines(struct laying *laying, const muta_passage *led, muta_passage *made)
{
    const muta_texture work = muta_passage_work(led);
    const muta_line *const bass = laying->bass ? muta_texture_bass(&work) : NULL;

    muta_passage_number_behind(made, led);
    MUTA_TRY(muta_passage_begin(made, led));
    for (size_t i = 0; i < work.line_count; i++) {
        if (bass == &work.lines[i])
            MUTA_TRY(put_bass_line(laying, led, i, made));
        else if (laying->bass || has_line_tune(led, i))
            MUTA_TRY(put_line(led, i, made));
    }
    return MUTA_OK;
}

/* The ground alone, in the line of the bass or the last. */
static muta_status put_ground(struct laying *laying, muta_passage *made)
{
    const muta_line *const other = laying->has_tune ? free_line(laying) : laying->bass;
    const muta_line *const line = other ? other : &laying->work.lines[laying->work.line_count - 1];
    muta_pitch before = {bass_middle(laying) * 7 / 12, 0};

    MUTA_TRY(muta_passage_begin_line(made, laying->call->in, (size_t)(line - laying->work.lines)));
    for (size_t i = 0; i < laying->chords.count; i++)
        MUTA_TRY(put_bass(laying, &laying->chords.at[i], &before, made));
    return MUTA_OK;
}

/* ---- all of it ---- */

static muta_status lay_over(struct laying *laying, muta_passage *made)
{
    muta_passage *laid = NULL;
    muta_passage *plain = NULL;
    muta_passage *led = NULL;
    const muta_passage *const in = laying->call->in;

    muta_status status = muta_passage_new_like(in, &laid);
    if (status == MUTA_OK)
        status = muta_passage_new_like(in, &plain);
    if (status == MUTA_OK)
        status = muta_passage_new_like(in, &led);
    if (status == MUTA_OK)
        status = lay_bars(laying, laid);
    if (status == MUTA_OK) {
        name_tune(laying, laid);
        status = laying->bass ? name_bass(laying, laid) : MUTA_OK;
    }
    if (status == MUTA_OK) {
        muta_passage_number_behind(plain, laid);
        status = close_lines(laying, laid, plain);
    }
    if (status == MUTA_OK)
        status = lead_over(laying, plain, led);
    if (status == MUTA_OK)
        status = put_lines(laying, led, made);
    muta_passage_free(laid);
    muta_passage_free(plain);
    muta_passage_free(led);
    return status;
}

/* What others need of what was found. */
static muta_status give(struct laying *laying)
{
    muta_historic *const historic = laying->historic;
    const size_t count = (size_t)historic->times + 1;

    historic->chords = laying->chords.at;
    historic->chord_count = laying->chords.count;
    historic->rounds = muta_arena_take_array(laying->arena, count, sizeof *historic->rounds);
    if (!historic->rounds)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < count; i++)
        historic->rounds[i] = i == 0           ? MUTA_ZERO
                              : i + 1 == count ? end_of(laying)
                                               : bar_at(laying, i * laying->ground->bars);
    return MUTA_OK;
}

muta_status muta_historic_lay(muta_historic *historic, muta_passage *made)
{
    const muta_call *const call = historic->call;
    struct laying laying = {.historic = historic,
                            .call = call,
                            .ground = historic->ground,
                            .work = muta_passage_work(call->in),
                            .arena = &historic->arena};
    const muta_line *const tune = muta_texture_tune(&laying.work);

    laying.bass = historic->is_alone ? NULL : muta_texture_bass(&laying.work);
    laying.has_tune = tune && (historic->is_alone || laying.work.line_count > 1);
    MUTA_TRY(find_bars(&laying));
    if (laying.has_tune) {
        MUTA_TRY(hear_tune(&laying));
        MUTA_TRY(find_own(&laying));
    }
    laying.has_tune = laying.own.count > 0 &&
                      (historic->is_alone || laying.bass != NULL || free_line(&laying) != NULL);
    MUTA_TRY(find_fit(&laying));
    if (laying.has_tune)
        MUTA_TRY(lay_over(&laying, made));
    else
        MUTA_TRY(muta_passage_begin(made, call->in));
    if (!historic->is_alone && (!laying.has_tune || !laying.bass))
        MUTA_TRY(put_ground(&laying, made));
    MUTA_TRY(give(&laying));
    made->length = historic->rounds[historic->times];
    MUTA_TRY(muta_passage_set_chords(made, historic->chords, historic->chord_count));
    return muta_passage_settle(made);
}

void muta_historic_clear(muta_historic *historic)
{
    muta_arena_clear(&historic->arena);
}
