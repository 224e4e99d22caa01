/*
 * things.c: what stands in bars besides notes and follows the time of a passage: levels and words,
 * wedges, pedals and octave lines, chord symbols, figured bass; for the whole score also tempo,
 * letters and jumps.
 */
#include "musicxml/note_form.h"
#include "musicxml/patch.h"
#include "musicxml/rewrite.h"
#include "musicxml/symbol.h"
#include <stdlib.h>
#include <string.h>

/* A passage, and which staves of the part follow it: where nothing else sounds. */
struct view {
    muta_rewriting *rewriting;
    const muta_passage *passage;
    muta_fraction start;  /* of the passage in the score */
    muta_fraction length; /* of it as it was */
    bool follows[UINT8_MAX + 1];
};

static const muta_part *part_of(const struct view *view)
{
    return &view->rewriting->score->parts[view->rewriting->part];
}

/* Says of the staves on which the part has events here whether they follow. */
static void mark_staves(struct view *view, const muta_weave *weave, bool follows)
{
    for (size_t i = 0; i < weave->lines.count; i++) {
        const muta_line *const line = &weave->lines.at[i];
        if (line->part != view->rewriting->part)
            continue;
        for (uint32_t j = line->event; j < line->event + line->event_count; j++)
            view->follows[weave->events.at[j].staff] = follows;
    }
}

static void look_at_staves(struct view *view)
{
    memset(view->follows, view->passage->is_tail, sizeof view->follows);
    if (view->passage->is_tail)
        return;
    mark_staves(view, view->passage->first, true);
    mark_staves(view, view->passage->context, false);
}

/* The start of a bar of the part, or its end behind the last. */
static muta_fraction bar_start(const struct view *view, uint32_t bar)
{
    const muta_score *const score = view->rewriting->score;
    const muta_part *const part = part_of(view);

    if (bar < part->bar_count)
        return muta_part_bar_start(score, part, bar);
    bar = (uint32_t)part->bar_count - 1;
    return muta_fraction_add(muta_part_bar_start(score, part, bar), part->bars[bar].length);
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
           is_inside(thing, time_of(view, thing), MUTA_ZERO, view->length);
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

/* The time that the statements hold together that go on where the one before them ended. */
static void run_of(const muta_passage *passage, const muta_statement *statement,
                   muta_fraction *from, muta_fraction *to)
{
    size_t last = statement->run;

    while (last + 1 < passage->map.count && passage->map.at[last + 1].run == statement->run)
        last++;
    *from = passage->map.at[statement->run].from;
    *to = passage->map.at[last].to;
}

/* Whether a statement, with those that it goes on, holds both ends of a span. */
static bool holds_both(const struct view *view, uint32_t index, const muta_statement *statement)
{
    const muta_thing *const thing = &part_of(view)->things.at[index];
    const muta_thing *const partner = muta_things_partner(part_of(view), index);
    muta_fraction from;
    muta_fraction to;

    run_of(view->passage, statement, &from, &to);
    return partner && is_inside(thing, time_of(view, thing), from, to) &&
           is_inside(partner, time_of(view, partner), from, to);
}

/*
 * A span of which an end lies outside the statement stays where it is, and is not said again; where
 * the bars themselves have moved, and no statement holds it whole, each end goes with its own time.
 */
static bool is_whole(const struct view *view, uint32_t index, const muta_statement *statement,
                     bool again)
{
    const muta_thing *const thing = &part_of(view)->things.at[index];
    const muta_passage *const passage = view->passage;

    if ((thing->kind != MUTA_THING_SPAN_START && thing->kind != MUTA_THING_SPAN_STOP) ||
        holds_both(view, index, statement))
        return true;
    if (!passage->is_regridded || again || statement->is_mirrored)
        return false;
    for (size_t i = 0; i < passage->map.count; i++)
        if (holds_both(view, index, &passage->map.at[i]))
            return false;
    return true;
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

static bool is_moved(const muta_statement *statement)
{
    return statement->moved.steps != 0 || statement->moved.size != 0;
}

/* The copy of a chord symbol goes along with a statement that lies higher or lower. */
static muta_status move_symbol(struct view *view, const muta_thing *thing, muta_node node,
                               const muta_statement *statement)
{
    const muta_harmony symbol = {.at = thing->at, .node = node, .moved = statement->moved};

    return thing->kind == MUTA_THING_HARMONY && is_moved(statement)
               ? muta_symbol_move(view->rewriting->score, part_of(view), &symbol,
                                  statement->is_tonal, view->rewriting->diags)
               : MUTA_OK;
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
    MUTA_TRY(move_symbol(view, thing, moved->node, statement));
    if (statement->is_mirrored && thing->kind == MUTA_THING_SPAN_START)
        MUTA_TRY(turn_wedge(&rewriting->score->tree, moved->node));
    muta_plan_place(rewriting->plan, view->passage, rewriting->part,
                    place_of(view, index, statement), is_end(thing), &moved->bar, &moved->onset);
    rewriting->thing_moves[index] = true;
    return MUTA_OK;
}

static bool sets_level(const struct view *view, const muta_thing *thing)
{
    const muta_tree *const tree = &view->rewriting->score->tree;

    if (thing->kind != MUTA_THING_LEVEL)
        return false;
    for (muta_node type = muta_tree_first(tree, thing->node); type;
         type = muta_tree_next(tree, type))
        if (muta_tree_child(tree, type, N_DYNAMICS) || muta_tree_name(tree, type) == N_SOUND)
            return true;
    return muta_tree_name(tree, thing->node) == N_SOUND;
}

/* Words, and a level that a passage has once, are not said again with each statement. */
static bool is_worth_saying(const struct view *view, const muta_thing *thing, bool again)
{
    const muta_part *const part = part_of(view);
    size_t count = 0;

    if (!again || (thing->kind != MUTA_THING_LEVEL && thing->kind != MUTA_THING_SCORE))
        return true;
    for (size_t i = 0; i < part->things.count; i++)
        count += sets_level(view, &part->things.at[i]) &&
                 part->things.at[i].at.staff == thing->at.staff &&
                 travels(view, &part->things.at[i]);
    return sets_level(view, thing) && count > 1;
}

static muta_status follow(struct view *view, uint32_t index)
{
    const muta_thing *const thing = &part_of(view)->things.at[index];
    const muta_fraction time = time_of(view, thing);
    bool again = false;

    for (size_t i = 0; i < view->passage->map.count; i++) {
        const muta_statement *const statement = &view->passage->map.at[i];
        if (!is_inside(thing, time, statement->from, statement->to) ||
            !is_whole(view, index, statement, again) || !is_worth_saying(view, thing, again))
            continue;
        MUTA_TRY(add_thing(view, index, statement, again));
        again = true;
    }
    return MUTA_OK;
}

/* ---- chord symbols and figures, which last until the next ---- */

/* The last of a kind before a moment, or at it; MUTA_NO_SOURCE when there is none. */
static uint32_t in_force(const struct view *view, muta_thing_kind kind, muta_fraction time,
                         bool at_it)
{
    const muta_part *const part = part_of(view);
    uint32_t found = MUTA_NO_SOURCE;

    for (uint32_t i = 0; i < part->things.count; i++) {
        const muta_thing *const thing = &part->things.at[i];
        if (thing->kind != kind || !view->follows[thing->at.staff])
            continue;
        const int order = muta_fraction_compare(time_of(view, thing), time);
        if (order < 0 || (order == 0 && at_it))
            found = i;
    }
    return found;
}

/* Says one again that is in force where nothing stands that says it. */
static muta_status restate(struct view *view, uint32_t index, uint32_t bar, muta_fraction onset,
                           const muta_statement *statement)
{
    muta_rewriting *const rewriting = view->rewriting;
    const muta_thing *const thing = &part_of(view)->things.at[index];
    muta_moved_thing *const moved = MUTA_PUSH(&rewriting->arena, &rewriting->things);

    if (!moved)
        return MUTA_E_MEMORY;
    *moved =
        (muta_moved_thing){.thing = index, .bar = bar, .onset = onset, .staff = thing->at.staff};
    MUTA_TRY(muta_note_form_copy(&rewriting->score->tree, thing->node, &moved->node));
    return statement ? move_symbol(view, thing, moved->node, statement) : MUTA_OK;
}

static bool is_same(const struct view *view, uint32_t a, uint32_t b)
{
    const muta_part *const part = part_of(view);

    return a == b || (a != MUTA_NO_SOURCE && b != MUTA_NO_SOURCE &&
                      muta_patch_says_same(&view->rewriting->score->tree, part->things.at[a].node,
                                           part->things.at[b].node));
}

/* A statement that begins while one is in force says it, unless that was said last. */
static muta_status restate_first(struct view *view, const muta_statement *statement,
                                 muta_thing_kind kind, uint32_t *last)
{
    const uint32_t held = in_force(view, kind, statement->from, true);
    const uint32_t at_end = in_force(view, kind, statement->to, false);
    uint32_t bar;
    muta_fraction onset;

    const bool is_held =
        held != MUTA_NO_SOURCE &&
        muta_fraction_compare(time_of(view, &part_of(view)->things.at[held]), statement->from) < 0;
    /* Turned round, it comes last, unless it holds throughout. */
    const bool comes_first = !statement->is_mirrored || at_end == held;
    if (is_held && (is_moved(statement) || !(comes_first && is_same(view, held, *last)))) {
        const muta_fraction time =
            statement->is_mirrored ? end_of(view, held, statement) : statement->from;
        muta_plan_place(view->rewriting->plan, view->passage, view->rewriting->part,
                        muta_statement_place(statement, time), false, &bar, &onset);
        MUTA_TRY(restate(view, held, bar, onset, statement));
    }
    *last = is_moved(statement) ? MUTA_NO_SOURCE : statement->is_mirrored ? held : at_end;
    return MUTA_OK;
}

/* What was in force behind the passage is said there, if it is not what its end left. */
static muta_status restate_behind(struct view *view, muta_thing_kind kind, uint32_t last)
{
    const muta_plan *const plan = view->rewriting->plan;
    const muta_passage *const passage = view->passage;
    const uint32_t held = in_force(view, kind, view->length, true);
    uint32_t bar = passage->to.bar;
    muta_fraction onset = MUTA_ZERO;

    if (held == MUTA_NO_SOURCE || is_same(view, held, last) || bar >= part_of(view)->bar_count ||
        muta_fraction_compare(time_of(view, &part_of(view)->things.at[held]), view->length) == 0)
        return MUTA_OK;
    if (passage->to.onset.top > 0)
        muta_plan_place(plan, passage, view->rewriting->part, passage->length, false, &bar, &onset);
    else
        bar = plan->bar_of[bar];
    return bar == MUTA_NO_BAR ? MUTA_OK : restate(view, held, bar, onset, NULL);
}

/* Those of time that is not stated any more are taken off. */
static void take_off_unstated(struct view *view, muta_thing_kind kind)
{
    muta_rewriting *const rewriting = view->rewriting;
    const muta_part *const part = part_of(view);
    size_t count = 0;

    for (uint32_t i = 0; i < part->things.count; i++) {
        if (part->things.at[i].kind != kind || rewriting->thing_moves[i] ||
            !travels(view, &part->things.at[i]))
            continue;
        rewriting->thing_moves[i] = true;
        count++;
    }
    if (count > 0)
        muta_diag_add(rewriting->diags, MUTA_WARNING,
                      muta_score_place(rewriting->score, part, view->passage->from),
                      "%zu %s of time that is not stated any more went with it", count,
                      kind == MUTA_THING_HARMONY ? "chord symbols" : "figures");
}

static muta_status follow_chords(struct view *view, muta_thing_kind kind)
{
    uint32_t last = in_force(view, kind, MUTA_ZERO, false);

    for (size_t i = 0; i < view->passage->map.count; i++)
        MUTA_TRY(restate_first(view, &view->passage->map.at[i], kind, &last));
    MUTA_TRY(restate_behind(view, kind, last));
    take_off_unstated(view, kind);
    return MUTA_OK;
}

/* ---- all together ---- */

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
    for (size_t i = 0; i < plan->passages.count && part->bar_count > 0; i++) {
        struct view view = {.rewriting = rewriting, .passage = plan->passages.at[i].passage};
        if (muta_passage_keeps_time(view.passage) || view.passage->map.count == 0)
            continue;
        view.start = muta_passage_start(view.passage, rewriting->part);
        view.length = muta_fraction_subtract(
            muta_fraction_add(bar_start(&view, view.passage->to.bar), view.passage->to.onset),
            view.start);
        look_at_staves(&view);
        take_out_clefs(&view);
        for (uint32_t j = 0; j < part->things.count; j++)
            if (travels(&view, &part->things.at[j]))
                MUTA_TRY(follow(&view, j));
        MUTA_TRY(follow_chords(&view, MUTA_THING_HARMONY));
        MUTA_TRY(follow_chords(&view, MUTA_THING_FIGURES));
    }
    MUTA_TRY(save_ends(rewriting));
    muta_sort(rewriting->things.at, rewriting->things.count, sizeof *rewriting->things.at,
              by_place);
    return MUTA_OK;
}
