/*
 * things.c: what stands in bars besides notes and follows the time of a passage: levels and words,
 * wedges, pedals and octave lines, chord symbols, figured bass; for the whole score also tempo,
 * letters and jumps.
 */
#include "musicxml/note_form.h"
#include "musicxml/patch.h"
#include "musicxml/rewrite.h"
#include <stdlib.h>
#include <string.h>

/* A passage, and which staves of the part follow it: where nothing else sounds. */
struct view {
    muta_rewriting *rewriting;
    const muta_passage *passage;
    muta_fraction start; /* of the passage in the score */
    bool follows[UINT8_MAX + 1];
};

static const muta_part *part_of(const struct view *view)
{
    return &view->rewriting->score->parts[view->rewriting->part];
}

static void look_at_staves(struct view *view)
{
    const muta_weave *const context = view->passage->context;
    const muta_weave *const first = view->passage->first;

    memset(view->follows, view->passage->is_tail, sizeof view->follows);
    if (view->passage->is_tail)
        return;
    for (size_t i = 0; i < first->events.count; i++) {
        const muta_event *const event = &first->events.at[i];
        if (first->lines.at[first->tones.at[event->tone].line].part == view->rewriting->part)
            view->follows[event->staff] = true;
    }
    for (size_t i = 0; i < context->events.count; i++) {
        const muta_event *const event = &context->events.at[i];
        if (context->lines.at[context->tones.at[event->tone].line].part == view->rewriting->part)
            view->follows[event->staff] = false;
    }
}

/* When a thing counts, from the start of the passage. */
static muta_fraction time_of(const struct view *view, const muta_thing *thing)
{
    const muta_fraction bar =
        muta_part_bar_start(view->rewriting->score, part_of(view), thing->at.bar);

    return muta_fraction_subtract(muta_fraction_add(bar, thing->at.onset), view->start);
}

static bool is_end(const muta_thing *thing)
{
    return thing->kind == MUTA_THING_SPAN_STOP;
}

/* Ends of spans belong to what comes before them, everything else to what follows. */
static bool is_inside(const muta_thing *thing, muta_fraction time, muta_fraction from,
                      muta_fraction to)
{
    const int begins = muta_fraction_compare(from, time);
    const int ends = muta_fraction_compare(time, to);

    return is_end(thing) ? begins < 0 && ends <= 0 : begins <= 0 && ends < 0;
}

static bool travels(const struct view *view, const muta_thing *thing)
{
    const muta_moment from = {view->passage->from.bar, MUTA_ALL_STAVES, MUTA_ZERO};

    if (thing->kind == MUTA_THING_GRID || muta_moment_compare(thing->at, from) < 0 ||
        thing->at.bar > view->passage->to.bar)
        return false;
    if (thing->kind == MUTA_THING_SCORE && !view->passage->is_everything && !view->passage->is_tail)
        return false;
    return view->follows[thing->at.staff] &&
           is_inside(
               thing, time_of(view, thing), MUTA_ZERO,
               muta_fraction_subtract(view->passage->stretches.count
                                          ? view->passage->map.at[view->passage->map.count - 1].to
                                          : MUTA_ZERO,
                                      MUTA_ZERO));
}

/* Whether a thing is an end of the same span as another, or might be. */
static bool is_of_span(const muta_thing *thing, const muta_thing *other)
{
    return other->span == thing->span && other->at.staff == thing->at.staff &&
           (other->kind == MUTA_THING_SPAN_START || other->kind == MUTA_THING_SPAN_STOP);
}

const muta_thing *muta_things_partner(const muta_part *part, uint32_t index)
{
    const muta_thing *const thing = &part->things.at[index];
    const bool starts = thing->kind == MUTA_THING_SPAN_START;

    for (size_t i = starts ? index + 1 : index; starts ? i < part->things.count : i > 0;
         starts ? i++ : i--) {
        const muta_thing *const other = &part->things.at[starts ? i : i - 1];
        if (is_of_span(thing, other))
            return other->kind != thing->kind ? other : NULL;
    }
    return NULL;
}

/* Until when a chord symbol or figure counts, within its statement. */
static muta_fraction end_of(const struct view *view, uint32_t index,
                            const muta_statement *statement)
{
    const muta_part *const part = part_of(view);
    const muta_thing *const thing = &part->things.at[index];

    for (size_t i = index + 1; i < part->things.count; i++) {
        const muta_fraction time = time_of(view, &part->things.at[i]);
        if (part->things.at[i].kind == thing->kind &&
            muta_fraction_compare(time, time_of(view, thing)) > 0)
            return muta_fraction_compare(time, statement->to) < 0 ? time : statement->to;
    }
    return statement->to;
}

/* Where a thing goes in a statement. A turned span begins where it ended, and so for chords. */
static muta_fraction place_of(const struct view *view, uint32_t index,
                              const muta_statement *statement)
{
    const muta_thing *const thing = &part_of(view)->things.at[index];
    const muta_thing *partner;
    muta_statement straight = *statement;

    switch ((muta_thing_kind)thing->kind) {
    case MUTA_THING_SPAN_START:
    case MUTA_THING_SPAN_STOP:
        partner = statement->is_mirrored ? muta_things_partner(part_of(view), index) : NULL;
        return muta_statement_place(statement, time_of(view, partner ? partner : thing));
    case MUTA_THING_SPAN_CHANGE:
        return muta_statement_place(statement, time_of(view, thing));
    case MUTA_THING_HARMONY:
    case MUTA_THING_FIGURES:
        return muta_statement_place(statement, statement->is_mirrored
                                                   ? end_of(view, index, statement)
                                                   : time_of(view, thing));
    case MUTA_THING_GRID:
    case MUTA_THING_SCORE:
    case MUTA_THING_LEVEL:
        break;
    }
    straight.is_mirrored = false; /* each level keeps its place */
    return muta_statement_place(&straight, time_of(view, thing));
}

/* A span of which an end lies outside the statement stays where it is. */
static bool is_whole(const struct view *view, uint32_t index, const muta_statement *statement)
{
    const muta_thing *const thing = &part_of(view)->things.at[index];

    if (thing->kind != MUTA_THING_SPAN_START && thing->kind != MUTA_THING_SPAN_STOP)
        return true;
    const muta_thing *const partner = muta_things_partner(part_of(view), index);
    return partner && is_inside(partner, time_of(view, partner), statement->from, statement->to);
}

static muta_status turn_wedge(muta_tree *tree, muta_node node)
{
    for (muta_node child = muta_tree_first(tree, node); child;
         child = muta_tree_next(tree, child)) {
        const char *const type = muta_tree_attribute(tree, child, N_TYPE);
        if (muta_tree_name(tree, child) == N_WEDGE && type && strcmp(type, "stop") != 0)
            MUTA_TRY(muta_tree_set_attribute(
                tree, child, N_TYPE, strcmp(type, "crescendo") == 0 ? "diminuendo" : "crescendo"));
        else
            MUTA_TRY(turn_wedge(tree, child));
    }
    return MUTA_OK;
}

static muta_status add_thing(struct view *view, uint32_t index, const muta_statement *statement,
                             bool again)
{
    muta_rewriting *const rewriting = view->rewriting;
    const muta_thing *const thing = &part_of(view)->things.at[index];
    muta_moved_thing *const moved = MUTA_PUSH(&rewriting->arena, &rewriting->things);

    if (!moved)
        return MUTA_E_MEMORY;
    *moved = (muta_moved_thing){.node = thing->node, .thing = index, .staff = thing->at.staff};
    if (again)
        MUTA_TRY(muta_note_form_copy(&rewriting->score->tree, thing->node, &moved->node));
    if (statement->is_mirrored && thing->kind == MUTA_THING_SPAN_START)
        MUTA_TRY(turn_wedge(&rewriting->score->tree, moved->node));
    muta_plan_place(rewriting->plan, view->passage, rewriting->part,
                    place_of(view, index, statement), is_end(thing), &moved->bar, &moved->onset);
    rewriting->thing_moves[index] = true;
    return MUTA_OK;
}

/* A level or word that a passage has once is not said again with each statement. */
static bool is_worth_saying(const struct view *view, const muta_thing *thing, bool again)
{
    const muta_part *const part = part_of(view);
    size_t count = 0;

    if (!again || (thing->kind != MUTA_THING_LEVEL && thing->kind != MUTA_THING_SCORE))
        return true;
    for (size_t i = 0; i < part->things.count; i++)
        count += part->things.at[i].kind == MUTA_THING_LEVEL &&
                 part->things.at[i].at.staff == thing->at.staff &&
                 travels(view, &part->things.at[i]);
    return thing->kind == MUTA_THING_LEVEL && count > 1;
}

static muta_status follow(struct view *view, uint32_t index)
{
    const muta_thing *const thing = &part_of(view)->things.at[index];
    const muta_fraction time = time_of(view, thing);
    bool again = false;

    for (size_t i = 0; i < view->passage->map.count; i++) {
        const muta_statement *const statement = &view->passage->map.at[i];
        if (!is_inside(thing, time, statement->from, statement->to) ||
            !is_whole(view, index, statement) || !is_worth_saying(view, thing, again))
            continue;
        MUTA_TRY(add_thing(view, index, statement, again));
        again = true;
    }
    return MUTA_OK;
}

/* Clefs inside time that moved are set anew for the tones. */
static void take_out_clefs(struct view *view)
{
    const muta_part *const part = part_of(view);
    const muta_moment from = view->passage->from;

    for (uint32_t i = 0; i < part->things.count; i++) {
        const muta_thing *const thing = &part->things.at[i];
        if (thing->kind != MUTA_THING_GRID || muta_moment_compare(thing->at, from) <= 0 ||
            muta_moment_compare(thing->at, view->passage->to) >= 0)
            continue;
        for (size_t staff = 1; staff <= part->staves && staff < UINT8_MAX; staff++)
            if (view->follows[staff] &&
                muta_clefs_take_out(&view->rewriting->score->tree, thing->node, (uint8_t)staff))
                view->rewriting->thing_moves[i] = true;
    }
}

/* An end of a span, or a jump, in a bar that goes moves to the end of the bar before it. */
static muta_status save_ends(muta_rewriting *rewriting)
{
    const muta_plan *const plan = rewriting->plan;
    const muta_part *const part = &rewriting->score->parts[rewriting->part];

    for (uint32_t i = 0; i < part->things.count; i++) {
        const muta_thing *const thing = &part->things.at[i];
        uint32_t bar = thing->at.bar;
        if (rewriting->thing_moves[i] || plan->bar_of[bar] != MUTA_NO_BAR ||
            (thing->kind < MUTA_THING_SPAN_START && thing->kind != MUTA_THING_SCORE))
            continue;
        while (bar > 0 && plan->bar_of[bar] == MUTA_NO_BAR)
            bar--;
        muta_moved_thing *const moved = MUTA_PUSH(&rewriting->arena, &rewriting->things);
        if (!moved)
            return MUTA_E_MEMORY;
        *moved = (muta_moved_thing){.node = thing->node,
                                    .thing = i,
                                    .bar = plan->bar_of[bar],
                                    .onset = plan->bars.at[plan->bar_of[bar]].length,
                                    .staff = thing->at.staff};
        rewriting->thing_moves[i] = true;
    }
    return MUTA_OK;
}

static int by_place(const void *a, const void *b)
{
    const muta_moved_thing *const one = a;
    const muta_moved_thing *const two = b;
    const int order = muta_fraction_compare(one->onset, two->onset);

    if (one->bar != two->bar)
        return one->bar < two->bar ? -1 : 1;
    if (order != 0)
        return order;
    return one->thing < two->thing ? -1 : one->thing > two->thing;
}

muta_status muta_things_find(muta_rewriting *rewriting)
{
    const muta_plan *const plan = rewriting->plan;
    const muta_part *const part = &rewriting->score->parts[rewriting->part];

    rewriting->thing_moves =
        muta_arena_take_array(&rewriting->arena, part->things.count + 1, sizeof(bool));
    if (!rewriting->thing_moves)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < plan->passages.count; i++) {
        struct view view = {.rewriting = rewriting, .passage = plan->passages.at[i].passage};
        if (muta_passage_keeps_time(view.passage) || view.passage->map.count == 0)
            continue;
        view.start = muta_passage_start(view.passage, rewriting->part);
        look_at_staves(&view);
        take_out_clefs(&view);
        for (uint32_t j = 0; j < part->things.count; j++)
            if (travels(&view, &part->things.at[j]))
                MUTA_TRY(follow(&view, j));
    }
    MUTA_TRY(save_ends(rewriting));
    if (rewriting->things.count > 0)
        qsort(rewriting->things.at, rewriting->things.count, sizeof *rewriting->things.at,
              by_place);
    return MUTA_OK;
}
