/*
 * build.c: from the tree to the score as written: its parts, its bars, the grid. Partwise and
 * timewise differ only in where a bar of a part hangs, so from here on nobody asks.
 */
#include "musicxml/build.h"
#include <stdio.h>
#include <string.h>

/* More cells than this are a claim, not a score: the largest real ones have some 50,000. */
enum {
    MOST_CELLS = 8 * 1024 * 1024
};

static muta_status refuse(muta_diags *diags, const muta_score *score, muta_node node,
                          const char *why)
{
    muta_place place = MUTA_NOWHERE;

    place.line = node ? muta_tree_at(&score->tree, node)->line : 0;
    muta_diag_add(diags, MUTA_ERROR, place, "%s", why);
    return MUTA_E_DATA;
}

static size_t count_children(const muta_tree *tree, muta_node parent, muta_name name)
{
    size_t count = 0;

    for (muta_node child = muta_tree_first(tree, parent); child;
         child = muta_tree_next(tree, child))
        count += muta_tree_name(tree, child) == name;
    return count;
}

/* A part's name on one line; its id when it has none. */
static const char *part_name(muta_score *score, muta_part *part, muta_node part_node)
{
    const muta_node leaf = part_node ? muta_tree_child(&score->tree, part_node, N_PART_NAME) : 0;
    const muta_text text = leaf ? muta_tree_leaf(&score->tree, leaf) : (muta_text){"", 0};

    if (text.length == 0)
        return part->id;
    char *const name = muta_arena_copy_text(&part->arena, text.at, text.length);
    for (char *at = name; at && *at; at++)
        if (*at == '\n' || *at == '\t' || *at == '\r')
            *at = ' ';
    return name;
}

/* Whether all of a part's instruments are percussion without pitch. */
static bool all_unpitched(const muta_tree *tree, muta_node part_node)
{
    size_t unpitched = 0;
    size_t midi = 0;

    for (muta_node child = muta_tree_first(tree, part_node); child;
         child = muta_tree_next(tree, child)) {
        if (muta_tree_name(tree, child) != N_MIDI_INSTRUMENT)
            continue;
        midi++;
        unpitched += muta_tree_child(tree, child, N_MIDI_UNPITCHED) != 0;
    }
    return midi > 0 && midi == unpitched;
}

static muta_node find_score_part(const muta_score *score, const char *id)
{
    const muta_tree *const tree = &score->tree;
    const muta_node list = muta_tree_child(tree, tree->root, N_PART_LIST);

    for (muta_node child = list ? muta_tree_first(tree, list) : 0; child;
         child = muta_tree_next(tree, child)) {
        if (muta_tree_name(tree, child) != N_SCORE_PART)
            continue;
        const char *const other = muta_tree_attribute(tree, child, N_ID);
        if (other && strcmp(other, id) == 0)
            return child;
    }
    return 0;
}

static const char *id_of(const muta_tree *tree, muta_node node)
{
    const char *const id = muta_tree_attribute(tree, node, N_ID);

    return id ? id : "";
}

/* Finds or adds the part with this id; timewise scores name it in every bar. */
static muta_status part_of(muta_score *score, const char *id, size_t guess, size_t room,
                           muta_part **part)
{
    if (guess < score->part_count && strcmp(score->parts[guess].id, id) == 0) {
        *part = &score->parts[guess];
        return MUTA_OK;
    }
    for (size_t i = 0; i < score->part_count; i++)
        if (strcmp(score->parts[i].id, id) == 0) {
            *part = &score->parts[i];
            return MUTA_OK;
        }
    if (score->part_count == room)
        return MUTA_E_RANGE;
    *part = &score->parts[score->part_count++];
    (*part)->id = id;
    return MUTA_OK;
}

static muta_status set_bars(muta_part *part, size_t count)
{
    part->bar_count = count;
    part->bars = muta_arena_take_array(&part->arena, count, sizeof *part->bars);
    return part->bars ? MUTA_OK : MUTA_E_MEMORY;
}

static muta_status lay_partwise(muta_score *score, muta_diags *diags)
{
    const muta_tree *const tree = &score->tree;
    const size_t count = count_children(tree, tree->root, N_PART);
    size_t part = 0;

    score->parts = muta_arena_take_array(&score->arena, count, sizeof *score->parts);
    if (!score->parts)
        return MUTA_E_MEMORY;
    for (muta_node node = muta_tree_first(tree, tree->root); node;
         node = muta_tree_next(tree, node)) {
        if (muta_tree_name(tree, node) != N_PART)
            continue;
        muta_part *const to = &score->parts[part];
        score->part_count = ++part;
        const size_t bars = count_children(tree, node, N_MEASURE);
        size_t bar = 0;
        to->id = id_of(tree, node);
        MUTA_TRY(set_bars(to, bars));
        for (muta_node cell = muta_tree_first(tree, node); cell; cell = muta_tree_next(tree, cell))
            if (muta_tree_name(tree, cell) == N_MEASURE)
                to->bars[bar++].cell = cell;
        if (part > 1 && bars != score->bar_count)
            muta_diag_add(diags, MUTA_WARNING, MUTA_NOWHERE,
                          "part %zu has %zu bars where the others have %zu", part, bars,
                          score->bar_count);
        score->bar_count = bars > score->bar_count ? bars : score->bar_count;
    }
    return MUTA_OK;
}

/* As many parts as the fullest bar holds, twice over for ids that come and go. */
static size_t most_parts(const muta_tree *tree)
{
    size_t most = 0;

    for (muta_node bar = muta_tree_first(tree, tree->root); bar; bar = muta_tree_next(tree, bar)) {
        const size_t count =
            muta_tree_name(tree, bar) == N_MEASURE ? count_children(tree, bar, N_PART) : 0;
        most = count > most ? count : most;
    }
    return most * 2;
}

static muta_status lay_timewise(muta_score *score, muta_diags *diags)
{
    const muta_tree *const tree = &score->tree;
    const size_t room = most_parts(tree);
    size_t bar = 0;

    score->bar_count = count_children(tree, tree->root, N_MEASURE);
    if (room * score->bar_count > MOST_CELLS)
        return refuse(diags, score, 0, "it claims more bars and parts than any score has");
    score->parts = muta_arena_take_array(&score->arena, room, sizeof *score->parts);
    if (!score->parts)
        return MUTA_E_MEMORY;
    for (muta_node measure = muta_tree_first(tree, tree->root); measure;
         measure = muta_tree_next(tree, measure)) {
        size_t place = 0;
        if (muta_tree_name(tree, measure) != N_MEASURE)
            continue;
        for (muta_node cell = muta_tree_first(tree, measure); cell;
             cell = muta_tree_next(tree, cell)) {
            muta_part *part;
            if (muta_tree_name(tree, cell) != N_PART)
                continue;
            if (part_of(score, id_of(tree, cell), place++, room, &part) != MUTA_OK)
                return refuse(diags, score, cell, "the parts of the bars do not match");
            if (!part->bars)
                MUTA_TRY(set_bars(part, score->bar_count));
            part->bars[bar].cell = cell;
        }
        bar++;
    }
    return MUTA_OK;
}

/* What holds where no metre is said. */
static const muta_metre common_time = {{4, 1}, 4, 4, {1, 1, 1, 1}};

/* The element that bears a bar's number: its cell, or the bar that holds the cells. */
static muta_status read_numbers(muta_score *score)
{
    const muta_tree *const tree = &score->tree;
    const muta_part *fullest = score->parts;
    muta_node measure = score->is_timewise ? muta_tree_first(tree, tree->root) : 0;

    for (size_t i = 0; i < score->part_count; i++)
        if (score->parts[i].bar_count > fullest->bar_count)
            fullest = &score->parts[i];
    score->bars = muta_arena_take_array(&score->arena, score->bar_count, sizeof *score->bars);
    if (!score->bars)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < score->bar_count; i++) {
        while (measure && muta_tree_name(tree, measure) != N_MEASURE)
            measure = muta_tree_next(tree, measure);
        const muta_node node = score->is_timewise ? measure : fullest->bars[i].cell;
        const char *const number = muta_tree_attribute(tree, node, N_NUMBER);
        const char *const implicit = muta_tree_attribute(tree, node, N_IMPLICIT);
        const char *const apart = muta_tree_attribute(tree, node, N_NON_CONTROLLING);
        score->bars[i] = (muta_bar){.number = number ? number : "",
                                    .implicit = implicit && strcmp(implicit, "yes") == 0};
        score->own_grids = score->own_grids || (apart && strcmp(apart, "yes") == 0);
        measure = measure ? muta_tree_next(tree, measure) : 0;
    }
    return MUTA_OK;
}

static muta_status read_bars(muta_score *score, muta_part *part, muta_node part_node,
                             muta_diags *diags)
{
    muta_reading *const reading = muta_arena_take(&part->arena, sizeof *reading);
    size_t notes = 0;

    if (!reading)
        return MUTA_E_MEMORY;
    *reading = (muta_reading){.score = score,
                              .part = part,
                              .diags = diags,
                              .part_node = part_node,
                              .divisions = muta_fraction_of(1, 1),
                              .metre = &common_time};
    for (size_t bar = 0; bar < part->bar_count; bar++)
        if (part->bars[bar].cell)
            notes += count_children(&score->tree, part->bars[bar].cell, N_NOTE);
    if (notes > 0 && !MUTA_RESERVE(&part->arena, &part->notes, notes))
        return MUTA_E_MEMORY;
    for (size_t bar = 0; bar < part->bar_count; bar++) {
        reading->bar = bar;
        MUTA_TRY(muta_build_bar(reading));
    }
    muta_part_sort_tracks(part);
    return MUTA_OK;
}

/* Each voice is at home on the staff where most of its notes stand. */
static muta_status settle_voices(muta_part *part)
{
    size_t *const counts = muta_arena_take_array(
        &part->arena, part->voices.count * (part->staves + 1), sizeof *counts);

    if (!counts)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < part->notes.count; i++)
        counts[part->notes.at[i].voice * (part->staves + 1) + part->notes.at[i].staff]++;
    for (size_t voice = 0; voice < part->voices.count; voice++) {
        const size_t *const of = &counts[voice * (part->staves + 1)];
        size_t home = 1;
        for (size_t staff = 2; staff <= part->staves; staff++)
            home = of[staff] > of[home] ? staff : home;
        part->voices.at[voice].home = (uint8_t)home;
    }
    return MUTA_OK;
}

/* What the part list says of what the part is played on; of several the first. */
static void find_instrument(const muta_score *score, muta_part *part, muta_node part_node)
{
    const muta_tree *const tree = &score->tree;
    const muta_node of = part_node ? muta_tree_child(tree, part_node, N_SCORE_INSTRUMENT) : 0;
    const muta_node midi = part_node ? muta_tree_child(tree, part_node, N_MIDI_INSTRUMENT) : 0;
    const muta_node sound = of ? muta_tree_child(tree, of, N_INSTRUMENT_SOUND) : 0;
    muta_fraction program;
    char text[80] = "";
    muta_instrument_clues clues = {.name = part->name};

    if (sound) {
        const muta_text leaf = muta_tree_leaf(tree, sound);
        (void)snprintf(text, sizeof text, "%.*s", (int)leaf.length, leaf.at);
        clues.sound = text;
    }
    if (midi && muta_build_number(tree, midi, N_MIDI_PROGRAM, &program) && program.bottom == 1)
        clues.program = program.top;
    part->has_instrument = muta_instrument_find(&clues, &part->instrument);
}

static muta_status read_part(muta_score *score, uint32_t index, muta_diags *diags)
{
    muta_part *const part = &score->parts[index];
    const muta_node part_node = find_score_part(score, part->id);

    part->name = part_name(score, part, part_node);
    if (!part->name)
        return MUTA_E_MEMORY;
    part->staves = 1;
    part->is_fixed = part_node && all_unpitched(&score->tree, part_node);
    find_instrument(score, part, part_node);
    if (!part_node)
        muta_diag_add(diags, MUTA_WARNING, MUTA_NOWHERE, "part \"%s\" is not in the part list",
                      part->id);
    MUTA_TRY(read_bars(score, part, part_node, diags));
    return settle_voices(part);
}

/* What the parts say of a bar that all have. */
static void lay_bar(muta_score *score, size_t bar)
{
    muta_bar *const to = &score->bars[bar];
    const muta_metre *metre = NULL;

    to->length = MUTA_ZERO;
    for (size_t i = 0; i < score->part_count; i++) {
        if (bar >= score->parts[i].bar_count)
            continue;
        const muta_part_bar *const of = &score->parts[i].bars[bar];
        to->length = muta_fraction_max(to->length, of->length);
        to->opens = to->opens || of->opens;
        to->closes = to->closes || of->closes;
        metre = metre ? metre : of->metre;
    }
    to->free = metre && !muta_fraction_is_valid(metre->length);
    to->metre = metre ? *metre : common_time;
}

/* Lays out the common grid: each bar as long as the longest part has it. */
static void lay_grid(muta_score *score)
{
    muta_fraction start = MUTA_ZERO;

    for (size_t bar = 0; bar < score->bar_count; bar++) {
        lay_bar(score, bar);
        score->bars[bar].start = start;
        start = muta_fraction_add(start, score->bars[bar].length);
    }
    for (size_t i = 0; i < score->part_count; i++) {
        start = MUTA_ZERO;
        for (size_t bar = 0; bar < score->parts[i].bar_count; bar++) {
            score->parts[i].bars[bar].start = start;
            start = muta_fraction_add(start, score->parts[i].bars[bar].length);
        }
    }
}

/* Whether a bar and its neighbour make up one bar: divided at a double bar or a repeat. */
static bool makes_up(const muta_score *score, size_t bar, size_t neighbour)
{
    return neighbour < score->bar_count &&
           muta_fraction_compare(
               muta_fraction_add(score->bars[bar].length, score->bars[neighbour].length),
               score->bars[bar].metre.length) == 0;
}

/* Whether a bar is shorter than the others have it, or than its metre without a reason. */
static bool is_unfilled(const muta_score *score, const muta_part *part, size_t bar)
{
    const muta_bar *const grid = &score->bars[bar];
    const bool inner = bar > 0 && bar + 1 < score->bar_count;

    if (part->bars[bar].count == 0 || part->bars[bar].doubt != MUTA_BAR_SURE || score->own_grids)
        return false;
    if (muta_fraction_compare(part->bars[bar].length, grid->length) < 0)
        return true;
    return inner && !grid->implicit && !grid->free &&
           muta_fraction_compare(grid->length, grid->metre.length) < 0 &&
           !makes_up(score, bar, bar - 1) && !makes_up(score, bar, bar + 1);
}

static void warn_of_unfilled(const muta_score *score, const muta_part *part, muta_diags *diags)
{
    for (size_t bar = 0; bar < part->bar_count; bar++) {
        const muta_moment at = {(uint32_t)bar, MUTA_ALL_STAVES, part->bars[bar].length};
        if (is_unfilled(score, part, bar))
            muta_diag_add(diags, MUTA_WARNING, muta_score_place(score, part, at),
                          "the voices do not fill a bar");
    }
}

static muta_status lay_out(muta_score *score, muta_diags *diags)
{
    const muta_name root = muta_tree_name(&score->tree, score->tree.root);

    if (root == N_OPUS)
        return refuse(diags, score, score->tree.root,
                      "this is an opus, a list of scores; give one of its scores");
    if (root != N_SCORE_PARTWISE && root != N_SCORE_TIMEWISE)
        return refuse(diags, score, score->tree.root,
                      "this is XML but no MusicXML score: its root is not score-partwise or "
                      "score-timewise");
    score->is_timewise = root == N_SCORE_TIMEWISE;
    MUTA_TRY((score->is_timewise ? lay_timewise : lay_partwise)(score, diags));
    if (score->part_count == 0 || score->bar_count == 0)
        return refuse(diags, score, score->tree.root, "the score has no bars");
    return MUTA_OK;
}

muta_status muta_build(muta_score *score, muta_diags *diags)
{
    MUTA_TRY(lay_out(score, diags));
    MUTA_TRY(read_numbers(score));
    for (uint32_t part = 0; part < score->part_count; part++)
        MUTA_TRY(read_part(score, part, diags));
    lay_grid(score);
    for (size_t i = 0; i < score->part_count; i++) {
        MUTA_TRY(muta_part_link_ties(score, &score->parts[i]));
        warn_of_unfilled(score, &score->parts[i], diags);
    }
    return MUTA_OK;
}

muta_status muta_build_again(muta_score *score)
{
    muta_score before = *score;

    muta_arena_init(&score->arena);
    score->own_grids = false;
    score->part_count = 0;
    score->bar_count = 0;
    const muta_status status = muta_build(score, NULL);
    muta_model_clear(&before);
    return status;
}
