/* realise.c: chords into notes: one accompaniment pattern kept up over the chords that stand, its
 * voices led by search. */
#include "passes/parts_heard.h"
#include "passes/realising.h"
#include <stdio.h>
#include <string.h>

static const char *const givens[] = {"auto", "tune", "bass", NULL};

static const muta_param params[] = {
    MUTA_ARG_NAME(struct muta_realise_args, as, "block", muta_table_patterns, "the pattern"),
    MUTA_ARG_DURATION(struct muta_realise_args, unit, "eighth", "the value of figures"),
    MUTA_ARG_TEXT(struct muta_realise_args, into,
                  "accompaniment, new, or an address; the accompaniment if there is one"),
    MUTA_ARG_CHOICE(struct muta_realise_args, given, "auto", givens,
                    "whether a line that stands alone is the tune or the bass; auto: as it lies"),
};

/* How long an event lasts at most: to the end of the bars that stay. */
static muta_fraction lasts_at_most(const struct muta_realising *realising, const muta_event *event)
{
    const struct muta_realise_bar *const end = realising->bars.at + realising->bars.count;
    const struct muta_realise_bar *bar = muta_realise_bar_at(realising, event->onset);

    while (bar + 1 < end && bar[1].stays)
        bar++;
    return muta_fraction_min(event->duration, muta_fraction_subtract(bar->to, event->onset));
}

/* What is not replaced; and of what is, the bars in which it has the tune. */
static muta_status keep_lines(struct muta_realising *realising)
{
    const muta_call *const call = realising->call;

    MUTA_TRY(muta_passage_begin(call->out, call->in));
    for (size_t i = 0; i < realising->work.line_count; i++) {
        const muta_line *const line = &realising->work.lines[i];
        const bool replaced = muta_seats_have(&realising->seats, line);
        MUTA_TRY(muta_passage_begin_line(call->out, call->in, i));
        for (uint32_t j = line->event; j < line->event + line->event_count; j++) {
            const muta_event *const event = &realising->work.events[j];
            if (replaced && !muta_realise_stays(realising, event->onset))
                continue;
            MUTA_TRY(muta_passage_put_event(call->out, call->in, j, event->onset,
                                            replaced ? lasts_at_most(realising, event)
                                                     : event->duration));
        }
    }
    return MUTA_OK;
}

static muta_status find_seats(struct muta_realising *realising)
{
    const char *const into = realising->args->into;
    const bool is_address = into && strcmp(into, "new") != 0 && strcmp(into, "accompaniment") != 0;

    if (realising->call->in->made_part != MUTA_NO_PART) {
        muta_seats_of_made(realising->call->in, &realising->seats);
        return MUTA_OK;
    }
    return muta_seats_find(realising->call->in, is_address ? into : NULL, &realising->seats,
                           realising->call->diags);
}

/* What rules had to be broken is said; of the accompaniment alone under a tune. */
static void tell_faults(const struct muta_realising *realising)
{
    size_t broken[MUTA_RULES] = {0};

    for (size_t i = 0; i < realising->spans.count; i++) {
        muta_voiced to = realising->voiced[i];
        muta_voiced from = i > 0 ? realising->voiced[i - 1] : to;
        if (realising->ensemble.is_top_apart) {
            to.count--;
            from.count--;
        }
        for (size_t rule = 0; rule < MUTA_RULES; rule++)
            broken[rule] += muta_rule_rows[rule].count(i > 0 ? &from : NULL, &to);
    }
    muta_parts_tell(broken, realising->call->diags);
}

static muta_status realise(struct muta_realising *realising)
{
    MUTA_TRY(find_seats(realising));
    realising->tune = muta_texture_tune(&realising->work);
    for (size_t i = 0; realising->tune && i < realising->seats.count; i++)
        if (muta_seats_have(&realising->seats, realising->tune))
            realising->tune = NULL;
    realising->whole = realising->pattern;
    realising->ends = realising->call->in->to.bar >= realising->call->in->score->bar_count;
    if (realising->seats.count == 0 || realising->call->in->chord_count == 0)
        return muta_passage_append(realising->call->out, realising->call->in, MUTA_ZERO, NULL);
    const muta_status status = muta_realise_voice(realising);
    if (status == MUTA_E_RANGE) {
        muta_diag_add(realising->call->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "a chord lies in no range of what should play it; try into=new");
        return MUTA_E_DATA;
    }
    MUTA_TRY(status);
    MUTA_TRY(muta_realise_find_bars(realising));
    MUTA_TRY(keep_lines(realising));
    MUTA_TRY(muta_realise_play(realising));
    tell_faults(realising);
    return MUTA_OK;
}

static muta_status run(const muta_call *call)
{
    struct muta_realising realising = {
        .call = call, .args = call->args, .work = muta_passage_work(call->in)};

    if (!muta_pattern_find(realising.args->as, &realising.pattern) ||
        !muta_pattern_find(strcmp(realising.args->as, "chorale") == 0 ? "chorale" : "block",
                           &realising.held))
        return MUTA_E_FAULT;
    const muta_status status = realise(&realising);
    muta_arena_clear(&realising.arena);
    return status;
}

static bool needs_part(const void *given, const muta_passage *passage)
{
    const struct muta_realise_args *const args = given;
    muta_seats seats;

    if (args->into)
        return strcmp(args->into, "new") == 0;
    return muta_seats_find(passage, NULL, &seats, NULL) == MUTA_OK && seats.count == 0;
}

const muta_pass muta_pass_realise = {
    .name = "realise",
    .group = "harmony",
    .summary = "chords into notes: one accompaniment pattern kept up, its voices led",
    .keeps = "the tune and the chords",
    MUTA_PARAMS(params, struct muta_realise_args),
    .where = MUTA_EVERYTHING,
    .needs = MUTA_NEEDS_PITCH | MUTA_NEEDS_STUDY,
    .effect = MUTA_KEEPS_CHORDS,
    .answer = MUTA_MAY_FIND_NOTHING | MUTA_HAS_NEXT_BEST,
    .needs_part = needs_part,
    .run = run,
};
