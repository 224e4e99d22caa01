/* remetre.c: moves into another metre: bars stretched, or their beats re-fitted. */
#include "passes/pass.h"
#include "score/texture.h"
#include <stdlib.h>

enum {
    STRETCH,
    REFIT
};

static const char *const hows[] = {"stretch", "refit", NULL};

struct args {
    const char *to;
    int how;
    int tempo;
};

static const muta_param params[] = {
    MUTA_ARG_TEXT(struct args, to,
                  "the metre, as 6/8 or 3+2/8; without it 2/4 from triple, 3/4 from others"),
    MUTA_ARG_CHOICE(struct args, how, "refit", hows,
                    "stretch each bar; or give its beats other lengths, so that accented tones "
                    "keep strong beats"),
    MUTA_ARG_TEMPO(struct args),
};

enum {
    BEATS = 6,   /* of a bar that is re-fitted; longer ones are stretched */
    LENGTHS = 4, /* that a beat may get */
    PATTERNS = 64,
    ODD = 600 /* price of a value that needs a dot or a tie where it did not, in thousandths */
};

/* What the beats of a bar become, in units of the old beat: halves. */
static const int64_t halves[LENGTHS] = {2, 1, 4, 3};

struct pattern {
    int64_t lengths[BEATS]; /* in halves of the old unit */
    int64_t price;
};

struct remetring {
    const muta_call *call;
    const muta_score *score;
    muta_arena arena;
    const muta_metre *from; /* of most of the passage */
    muta_metre to;
    muta_fraction unit; /* of the old metre: a beat, or a third of a dotted one */
    size_t units;
    struct pattern patterns[PATTERNS];
    size_t pattern_count;
    const struct pattern *taken; /* NULL: bars are stretched */
    MUTA_VEC(muta_warp) warp;
};

/* ---- what is asked for ---- */

static bool read_metre(const char *text, muta_metre *metre)
{
    int64_t sum = 0;
    int64_t term;

    *metre = (muta_metre){.length = MUTA_ZERO};
    do {
        text = muta_text_count(text + (*text == '+'), &term);
        if (!text || term < 1 || term > 64 || metre->group_count == MUTA_GROUPS)
            return false;
        metre->groups[metre->group_count++] = (uint8_t)term;
        sum += term;
    } while (*text == '+');
    if (*text != '/')
        return false;
    text = muta_text_count(text + 1, &metre->beat_type);
    if (!text || *text || metre->beat_type < 1 || metre->beat_type > 64 ||
        (metre->beat_type & (metre->beat_type - 1)) != 0)
        return false;
    metre->length = muta_fraction_of(4 * sum, metre->beat_type);
    muta_metre_group(metre, sum);
    return true;
}

static bool is_triple(const muta_metre *metre)
{
    return metre->group_count == 3;
}

static muta_status read_args(struct remetring *work)
{
    const struct args *args = work->call->args;
    const char *const text = args->to ? args->to : is_triple(work->from) ? "2/4" : "3/4";

    if (read_metre(text, &work->to))
        return MUTA_OK;
    muta_diag_add(work->call->diags, MUTA_ERROR, MUTA_NOWHERE,
                  "to=%.60s is no metre; write it as 3/4 or 3+2/8", text);
    return MUTA_E_USAGE;
}

/* Every part moves along, bar by bar. */
static muta_status check_passage(const struct remetring *work)
{
    const muta_passage *const in = work->call->in;

    if (in->is_everything && in->context->tones.count == 0 && !work->score->own_grids)
        return MUTA_OK;
    muta_diag_add(work->call->diags, MUTA_ERROR, MUTA_NOWHERE,
                  "another metre is every part's: name whole bars of all parts, as where=*:5-8");
    return MUTA_E_DATA;
}

/* ---- patterns ---- */

static bool is_of(const muta_metre *a, const muta_metre *b)
{
    bool same =
        muta_fraction_compare(a->length, b->length) == 0 && a->group_count == b->group_count;

    for (size_t i = 0; same && i < a->group_count; i++)
        same = a->groups[i] == b->groups[i];
    return same;
}

/* How weak a moment of a bar is: 0 the first beat, 1 a group's, 2 a beat, 3 and 4 what is finer. */
static int64_t weakness(const muta_metre *metre, muta_fraction at)
{
    const muta_fraction beat = muta_fraction_of(4, metre->beat_type);
    muta_fraction group = MUTA_ZERO;
    const muta_fraction place = muta_fraction_divide(at, beat);

    if (at.top == 0)
        return 0;
    for (size_t i = 0; i < metre->group_count; i++) {
        if (muta_fraction_compare(group, at) == 0)
            return metre->group_count == 4 && i == 2 ? 1 : 2;
        group = muta_fraction_add(group, muta_fraction_scale(beat, metre->groups[i]));
    }
    return place.bottom == 1 ? 3 : place.bottom == 2 ? 4 : 5;
}

/* Where a moment of a whole bar goes. */
static muta_fraction place_in(const struct remetring *work, const struct pattern *pattern,
                              muta_fraction at)
{
    const muta_fraction half = muta_fraction_divide(work->unit, muta_fraction_of(2, 1));
    const muta_fraction place = muta_fraction_divide(at, work->unit);
    const int64_t whole = place.top / place.bottom;
    muta_fraction to = MUTA_ZERO;

    for (int64_t i = 0; i < whole && i < (int64_t)work->units; i++)
        to = muta_fraction_add(to, muta_fraction_scale(half, pattern->lengths[i]));
    if (whole >= (int64_t)work->units)
        return to;
    const muta_fraction rest = muta_fraction_subtract(place, muta_fraction_of(whole, 1));
    return muta_fraction_add(
        to, muta_fraction_multiply(rest, muta_fraction_scale(half, pattern->lengths[whole])));
}

static bool is_plain_value(muta_fraction duration)
{
    return (duration.top & (duration.top - 1)) == 0 || duration.top == 3;
}

/* A tone weighs as much as it lasts, and more where it was accented. */
static int64_t price_event(const struct remetring *work, const struct pattern *pattern,
                           const muta_event *event)
{
    muta_beat beat;
    muta_passage_beat_at(work->call->in, event->onset, &beat);
    const muta_fraction at = muta_fraction_subtract(event->onset, beat.bar);
    const muta_fraction end = muta_fraction_add(at, event->duration);

    if (at.top < 0 || muta_fraction_compare(end, work->from->length) > 0)
        return 0;
    const muta_fraction to = place_in(work, pattern, at);
    const muta_fraction lasts = muta_fraction_subtract(place_in(work, pattern, end), to);
    const int64_t weight = 500 + event->duration.top * 1000 / event->duration.bottom;
    const int64_t strong = 5 - weakness(work->from, at);
    const int64_t odd = is_plain_value(lasts) ? 0 : ODD;
    return weight * strong * weakness(&work->to, to) / 5 + odd;
}

/* How much the beats differ from even ones, in thousandths of a bar, halved. */
static int64_t unevenness(const struct remetring *work, const struct pattern *pattern)
{
    const int64_t units = (int64_t)work->units;
    int64_t sum = 0;
    int64_t off = 0;

    for (int64_t i = 0; i < units; i++)
        sum += pattern->lengths[i];
    for (int64_t i = 0; i < units; i++)
        off += llabs(pattern->lengths[i] * units - sum);
    return sum > 0 ? off * 500 / (sum * units) : 0;
}

static int64_t price_of(const struct remetring *work, const struct pattern *pattern)
{
    const muta_texture texture = muta_passage_work(work->call->in);
    int64_t price = 0;

    for (size_t i = 0; i < texture.event_count; i++)
        if (!texture.events[i].is_grace && texture.events[i].duration.top > 0)
            price += price_event(work, pattern, &texture.events[i]);
    return price + price * unevenness(work, pattern) / 1000;
}

static void keep_pattern(struct remetring *work, struct pattern pattern)
{
    size_t at = work->pattern_count < PATTERNS ? work->pattern_count++ : PATTERNS - 1;

    for (; at > 0 && work->patterns[at - 1].price > pattern.price; at--)
        work->patterns[at] = work->patterns[at - 1];
    work->patterns[at] = pattern;
}

/* Every way to give the beats lengths that fill the new bar; among equals the earlier. */
static void find_patterns(struct remetring *work)
{
    const muta_fraction half = muta_fraction_divide(work->unit, muta_fraction_of(2, 1));
    const muta_fraction sum = muta_fraction_divide(work->to.length, half);
    uint32_t ways = 1;

    for (size_t i = 0; i < work->units; i++)
        ways *= LENGTHS;
    for (uint32_t way = 0; way < ways && sum.bottom == 1; way++) {
        struct pattern pattern = {.price = 0};
        int64_t total = 0;
        uint32_t rest = way;
        for (size_t i = work->units; i > 0; i--, rest /= LENGTHS) {
            pattern.lengths[i - 1] = halves[rest % LENGTHS];
            total += pattern.lengths[i - 1];
        }
        if (total != sum.top)
            continue;
        pattern.price = price_of(work, &pattern);
        keep_pattern(work, pattern);
    }
}

static void choose(struct remetring *work)
{
    const struct args *args = work->call->args;
    const muta_fraction beat = muta_fraction_of(4, work->from->beat_type);
    const muta_fraction units = muta_fraction_divide(work->from->length, beat);

    work->unit = beat;
    work->units = units.bottom == 1 ? (size_t)units.top : 0;
    if (args->how == STRETCH || work->units < 2 || work->units > BEATS)
        return;
    find_patterns(work);
    if (work->pattern_count > 0)
        work->taken =
            &work->patterns[work->call->pick < work->pattern_count ? work->call->pick - 1
                                                                   : work->pattern_count - 1];
}

/* ---- the warp ---- */

static muta_status add_piece(struct remetring *work, muta_fraction from, muta_fraction to,
                             muta_fraction scale)
{
    muta_warp *const piece = MUTA_PUSH(&work->arena, &work->warp);

    if (!piece)
        return MUTA_E_MEMORY;
    *piece = (muta_warp){from, to, scale, MUTA_ZERO};
    if (work->warp.count > 1)
        piece->at = muta_fraction_add(
            piece[-1].at,
            muta_fraction_multiply(muta_fraction_subtract(piece[-1].to, piece[-1].from),
                                   piece[-1].scale));
    return MUTA_OK;
}

/* The beats of a bar, from one on: a pick-up is the end of its bar. */
static muta_status warp_beats(struct remetring *work, muta_fraction start, muta_fraction end,
                              muta_fraction first)
{
    muta_fraction at = start;

    while (muta_fraction_compare(at, end) < 0) {
        const muta_fraction in_bar = muta_fraction_add(muta_fraction_subtract(at, start), first);
        const muta_fraction place = muta_fraction_divide(in_bar, work->unit);
        const int64_t nth = place.top / place.bottom;
        const muta_fraction edge = muta_fraction_add(
            start, muta_fraction_subtract(muta_fraction_scale(work->unit, nth + 1), first));
        const muta_fraction to = muta_fraction_compare(edge, end) < 0 ? edge : end;
        MUTA_TRY(add_piece(work, at, to, muta_fraction_of(work->taken->lengths[nth], 2)));
        at = to;
    }
    return MUTA_OK;
}

static muta_status warp_bar(struct remetring *work, uint32_t bar)
{
    const muta_bar *const of = &work->score->bars[bar];
    const muta_fraction start =
        muta_fraction_subtract(of->start, work->score->bars[work->call->in->from.bar].start);
    const muta_fraction end = muta_fraction_add(start, of->length);
    const bool is_whole =
        muta_fraction_compare(of->length, work->from->length) <= 0 && is_of(&of->metre, work->from);

    if (work->taken && is_whole) {
        const muta_fraction missing = muta_fraction_subtract(work->from->length, of->length);
        return warp_beats(work, start, end, bar == 0 ? missing : MUTA_ZERO);
    }
    const muta_fraction was =
        muta_fraction_is_valid(of->metre.length) ? of->metre.length : of->length;
    return add_piece(work, start, end, muta_fraction_divide(work->to.length, was));
}

static muta_status remetre(struct remetring *work)
{
    const struct args *const args = work->call->args;
    const muta_passage *const in = work->call->in;

    MUTA_TRY(check_passage(work));
    MUTA_TRY(read_args(work));
    choose(work);
    for (uint32_t bar = in->from.bar; bar < in->to.bar && bar < work->score->bar_count; bar++)
        MUTA_TRY(warp_bar(work, bar));
    MUTA_TRY(muta_passage_warp(work->call->out, in, work->warp.at, work->warp.count));
    /* Beats that are re-fitted are not all longer, or all shorter. */
    if (!work->taken || args->tempo)
        muta_passage_slow(work->call->out,
                          muta_fraction_divide(work->to.length, work->from->length), args->tempo);
    work->call->out->is_remetred = true;
    work->call->out->metre = work->to;
    return MUTA_OK;
}

/* The metre in which most bars are. */
static const muta_metre *commonest(const muta_passage *in)
{
    const muta_score *const score = in->score;
    const muta_metre *best = &score->bars[in->from.bar].metre;
    size_t most = 0;

    for (uint32_t i = in->from.bar; i < in->to.bar && i < score->bar_count; i++) {
        size_t count = 0;
        if (i > in->from.bar && is_of(&score->bars[i].metre, &score->bars[i - 1].metre))
            continue;
        for (uint32_t j = in->from.bar; j < in->to.bar && j < score->bar_count; j++)
            count += is_of(&score->bars[i].metre, &score->bars[j].metre);
        if (count <= most)
            continue;
        most = count;
        best = &score->bars[i].metre;
    }
    return best;
}

static muta_status run(const muta_call *call)
{
    struct remetring work = {.call = call, .score = call->in->score, .from = commonest(call->in)};
    const muta_status status = remetre(&work);

    muta_arena_clear(&work.arena);
    return status;
}

const muta_pass muta_pass_remetre = {
    .name = "remetre",
    .group = "rhythm",
    .summary = "moves into another metre",
    .keeps = "every pitch and word, the number of bars; re-fitted, the accents of the tunes",
    MUTA_PARAMS(params, struct args),
    .needs = MUTA_NEEDS_PITCH,
    .effect = MUTA_CHANGES_METRE | MUTA_KEEPS_CHORDS,
    .answer = MUTA_HAS_NEXT_BEST,
    .run = run,
};
