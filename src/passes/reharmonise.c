/* reharmonise.c: other chords under the same tune, found by search; the accompaniment follows them
 * in its own figures. */
#include "passes/alone.h"
#include "passes/harmonising.h"
#include "passes/parts_heard.h"
#include "passes/refigure.h"
#include "theory/table.h"

enum {
    REWRITE,
    LEAVE
};

static const char *const figurations[] = {"rewrite", "leave", NULL};

static const char *const cadences[] = {"keep", "deceptive", "half", "plagal", NULL};

struct args {
    const char *palette;
    muta_fraction stray;
    int figuration;
    int64_t chords;
    int cadences;
    int enrich;
    muta_given_key modulate;
};

static const muta_param params[] = {
    MUTA_ARG_NAME(struct args, palette, "common-practice", muta_table_palettes,
                  "which chords there are"),
    MUTA_ARG_SHARE(struct args, stray, "0.3",
                   "how far from the chords that were there: 0 stays with them, 1 avoids them"),
    MUTA_ARG_COUNT(struct args, chords, "0", 0, 16, NULL,
                   "how many a bar at most; 0: as often as they changed before"),
    MUTA_ARG_CHOICE(struct args, cadences, "keep", cadences, "how inner phrases end"),
    MUTA_ARG_CHOICE(struct args, enrich, "no", muta_yes_or_no,
                    "the chords stay on their roots and are given sevenths and ninths"),
    MUTA_ARG_KEY(struct args, modulate, "a key to which the last phrase goes, as G or e"),
    MUTA_ARG_CHOICE(struct args, figuration, "rewrite", figurations,
                    "the accompaniment onto the new chords in its own figures, or only symbols"),
};

/* Costs in thousandths; set by hand. */
enum {
    GRAVE = 8000, /* a rule that counts in an accompaniment too, where voices come and go */
    BADLY_LED =
        5000,   /* each rule of part-writing that the accompaniment breaks and did not before */
    ROUNDS = 4, /* of looking for chords with which it does not */
};

/* What of the pass is the accompaniment's; by slot but for the pitches. */
struct following {
    struct muta_harmonising *chords;
    muta_pitch *pitches; /* by tone of the answer, as they were */
    muta_fraction *onsets;
    muta_harmony_slot *old_slots;
    muta_harmony_slot *new_slots;
    muta_voiced *were; /* what sounded as it began, and what sounds now */
    muta_voiced *are;
};

static muta_status take(struct muta_harmonising *work, const muta_answer *answer)
{
    muta_passage_chord *chords;

    MUTA_TRY(muta_harmonising_take(work, answer, &chords));
    return muta_passage_set_chords(work->call->out, chords, work->slots.count);
}

static bool has_accompaniment(const muta_texture *work)
{
    for (size_t i = 0; i < work->tone_count; i++)
        if (!work->tones[i].is_tune && !work->tones[i].is_fixed)
            return true;
    return false;
}

/* ---- the accompaniment ---- */

static muta_harmony_slot slot_of(const struct muta_harmonised_slot *slot, const muta_chord *value)
{
    return (muta_harmony_slot){.value = {.root = value->root, .kind = value->kind},
                               .leading =
                                   muta_chord_leading(value->kind, value->root, slot->old->tonic)};
}

/* How its voices stood. */
static muta_status hear_parts(struct following *work)
{
    const size_t count = work->chords->slots.count;
    const muta_texture out = muta_passage_work(work->chords->call->out);

    work->pitches =
        muta_arena_take_array(&work->chords->arena, out.tone_count + 1, sizeof(muta_pitch));
    work->onsets = muta_arena_take_array(&work->chords->arena, count + 1, sizeof *work->onsets);
    work->old_slots =
        muta_arena_take_array(&work->chords->arena, count + 1, sizeof *work->old_slots);
    work->new_slots =
        muta_arena_take_array(&work->chords->arena, count + 1, sizeof *work->new_slots);
    work->were = muta_arena_take_array(&work->chords->arena, count + 1, sizeof *work->were);
    work->are = muta_arena_take_array(&work->chords->arena, count + 1, sizeof *work->are);
    if (!work->pitches || !work->onsets || !work->old_slots || !work->new_slots || !work->were ||
        !work->are)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < out.tone_count; i++)
        work->pitches[i] = out.tones[i].pitch;
    for (size_t i = 0; i < count; i++) {
        const struct muta_harmonised_slot *const slot = &work->chords->slots.at[i];
        work->onsets[i] = slot->from;
        work->old_slots[i] = slot_of(slot, &slot->old->value);
    }
    muta_parts_hear(work->chords->call->in, work->old_slots, work->onsets, count, work->were);
    return MUTA_OK;
}

/* Moves the accompaniment onto the chords of an answer. */
static muta_status follow(struct following *work, const muta_answer *answer)
{
    muta_passage *const out = work->chords->call->out;
    const size_t count = muta_passage_work(out).tone_count;

    MUTA_TRY(take(work->chords, answer));
    for (size_t i = 0; i < count; i++)
        muta_passage_set_pitch(out, &muta_passage_tones(out)[i], work->pitches[i]);
    return muta_refigure(work->chords->call->in, out);
}

static void blame(struct muta_harmonised_option *option, size_t faults)
{
    option->cost += option->is_old ? 0 : (int64_t)faults * BADLY_LED;
}

/* How often it breaks rules where it did not before; the chords that make it become dearer. */
static size_t weigh(struct following *work, const muta_answer *answer)
{
    const size_t count = work->chords->slots.count;
    size_t worse = 0;

    for (size_t i = 0; i < count; i++) {
        const struct muta_harmonised_slot *const slot = &work->chords->slots.at[i];
        const struct muta_harmonised_option *const option =
            &work->chords->options.at[slot->option + answer->taken[i]];
        work->new_slots[i] = slot_of(slot, &option->value);
    }
    muta_parts_hear(work->chords->call->out, work->new_slots, work->onsets, count, work->are);
    for (size_t i = 1; i < count; i++) {
        const struct muta_harmonised_slot *const slot = &work->chords->slots.at[i];
        const size_t were = muta_rules_faults(&work->were[i - 1], &work->were[i]);
        const size_t are = muta_rules_faults(&work->are[i - 1], &work->are[i]);
        if (are <= were)
            continue;
        worse += are - were;
        blame(&work->chords->options.at[slot->option + answer->taken[i]], are - were);
        blame(&work->chords->options.at[slot[-1].option + answer->taken[i - 1]], are - were);
    }
    return worse;
}

/* What rules had to be broken more often than before is said. */
static void tell_faults(const struct following *work)
{
    size_t broken[MUTA_RULES] = {0};

    for (size_t rule = 0; rule < MUTA_RULES; rule++) {
        const bool is_told = muta_rule_rows[rule].is_way && muta_rule_rows[rule].weight >= GRAVE;
        size_t were = 0;
        size_t are = 0;
        for (size_t i = 1; is_told && i < work->chords->slots.count; i++) {
            if (work->are[i - 1].count == work->are[i].count)
                are += muta_rule_rows[rule].count(&work->are[i - 1], &work->are[i]);
            if (work->were[i - 1].count == work->were[i].count)
                were += muta_rule_rows[rule].count(&work->were[i - 1], &work->were[i]);
        }
        broken[rule] = are > were ? are - were : 0;
    }
    muta_parts_tell(broken, work->chords->call->diags);
}

/* Chords onto which the accompaniment can be led as well as it was, as far as that goes. */
static muta_status search_led(struct following *work)
{
    const muta_answer *best = NULL;
    const muta_answer *last = NULL;
    size_t least = SIZE_MAX;

    MUTA_TRY(hear_parts(work));
    for (size_t round = 0; round < ROUNDS && least > 0; round++) {
        MUTA_TRY(muta_harmonising_search(work->chords, &last));
        MUTA_TRY(follow(work, last));
        const size_t worse = weigh(work, last);
        if (worse >= least)
            continue;
        least = worse;
        best = last;
    }
    if (best != last) {
        MUTA_TRY(follow(work, best));
        (void)weigh(work, best);
    }
    tell_faults(work);
    return MUTA_OK;
}

static muta_status harmonise(struct muta_harmonising *work, bool rewrites)
{
    const bool has_symbols = muta_passage_has_symbols(work->call->in);
    struct following following = {.chords = work};
    const muta_answer *answer;
    muta_passage_chord *chords;
    size_t count;

    MUTA_TRY(muta_list_or_set_chords(work->call, &work->arena, &chords, &count));
    MUTA_TRY(muta_harmonising_find_slots(work, chords, count));
    if (work->modulate.is_given && work->slots.count > 0)
        MUTA_TRY(muta_harmonising_go_abroad(work));
    if (work->slots.count == 0 || (work->is_anew && !rewrites && !has_symbols))
        return MUTA_OK;
    MUTA_TRY(muta_harmonising_find_chords(work));
    if (!rewrites || has_symbols)
        work->call->out->says |= MUTA_SAYS_SYMBOLS;
    if (rewrites)
        return search_led(&following);
    MUTA_TRY(muta_harmonising_search(work, &answer));
    return take(work, answer);
}

static muta_status reharmonise(const muta_call *call, const struct args *args, bool is_anew)
{
    const muta_fraction thousandths = muta_fraction_scale(args->stray, 1000);
    struct muta_harmonising work = {.call = call,
                                    .palette = args->palette,
                                    .work = muta_passage_work(call->in),
                                    .stray = thousandths.top / thousandths.bottom,
                                    .most = args->chords,
                                    .cadences = (muta_cadences)args->cadences,
                                    .enriches = args->enrich,
                                    .modulate = args->modulate,
                                    .is_anew = is_anew};

    MUTA_TRY(muta_passage_append(call->out, call->in, MUTA_ZERO, NULL));
    muta_status status = muta_harmonising_find_tune(&work);
    if (status == MUTA_OK && work.tune.count > 0)
        status = harmonise(&work, args->figuration == REWRITE && has_accompaniment(&work.work));
    muta_arena_clear(&work.arena);
    return status;
}

static muta_status run(const muta_call *call)
{
    return reharmonise(call, call->args, false);
}

muta_status muta_harmonise_anew(const muta_call *call)
{
    static const struct args near = {.palette = "plain", .stray = {0, 1}, .figuration = REWRITE};

    return reharmonise(call, &near, true);
}

const muta_pass muta_pass_reharmonise = {
    .name = "reharmonise",
    .group = "harmony",
    .summary = "other chords under the same tune",
    .keeps = "the tune, the first and the last chord, how phrases end, the figures",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_EVERYTHING,
    .needs = MUTA_NEEDS_PITCH | MUTA_NEEDS_STUDY,
    .effect = MUTA_KEEPS_CHORDS,
    .answer = MUTA_MAY_FIND_NOTHING | MUTA_HAS_NEXT_BEST,
    .run = run,
};
