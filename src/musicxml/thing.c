/* thing.c: what stands in a bar besides its notes, and how it travels when time changes. */
#include "musicxml/build.h"
#include <string.h>

/* What a `direction-type` or a `direction` amounts to. */
struct role {
    muta_thing_kind kind;
    uint8_t span;
};

enum {
    NUMBERS = 17 /* of spans that overlap, from 1; 0 when none is said */
};

const muta_name muta_direction_spans[MUTA_DIRECTION_SPANS] = {N_WEDGE, N_PEDAL, N_OCTAVE_SHIFT,
                                                              N_DASHES, N_BRACKET};

static uint8_t span_of(const muta_tree *tree, muta_node node, uint8_t row)
{
    const char *const number = muta_tree_attribute(tree, node, N_NUMBER);
    const uint8_t said =
        number ? muta_build_staff((muta_text){number, strlen(number)}, 0) : (uint8_t)0;

    return (uint8_t)(row * NUMBERS + (said < NUMBERS ? said : 0));
}

static muta_thing_kind end_of(const muta_tree *tree, muta_node node)
{
    const char *const type = muta_tree_attribute(tree, node, N_TYPE);

    return !type || strcmp(type, "stop") == 0 ? MUTA_THING_SPAN_STOP
           : strcmp(type, "change") == 0 || strcmp(type, "continue") == 0 ||
                   strcmp(type, "discontinue") == 0 || strcmp(type, "resume") == 0
               ? MUTA_THING_SPAN_CHANGE
               : MUTA_THING_SPAN_START;
}

/* Of several kinds in one direction, the one that speaks for more wins. */
static void consider(const muta_tree *tree, muta_node node, struct role *role)
{
    const muta_name name = muta_tree_name(tree, node);

    for (size_t i = 0; i < MUTA_DIRECTION_SPANS; i++) {
        if (name != muta_direction_spans[i] || role->kind == MUTA_THING_SCORE)
            continue;
        const struct role was = *role;
        *role = (struct role){end_of(tree, node), span_of(tree, node, (uint8_t)i)};
        /* One span ends where the next begins: together they are one that changes. */
        if (was.kind == MUTA_THING_SPAN_STOP && role->kind == MUTA_THING_SPAN_START &&
            was.span == role->span)
            role->kind = MUTA_THING_SPAN_CHANGE;
    }
    if (name == N_REHEARSAL || name == N_SEGNO || name == N_CODA || name == N_METRONOME)
        role->kind = MUTA_THING_SCORE;
}

/* A sound that sets the tempo or a jump speaks for the whole score. */
static bool is_for_all(const muta_tree *tree, muta_node sound)
{
    static const muta_name names[] = {N_TEMPO, N_DACAPO, N_DALSEGNO, N_FINE,
                                      N_CODA,  N_SEGNO,  N_TOCODA};

    for (size_t i = 0; i < MUTA_LENGTH(names); i++)
        if (muta_tree_attribute(tree, sound, names[i]))
            return true;
    return false;
}

static struct role role_of(const muta_tree *tree, muta_node direction)
{
    struct role role = {MUTA_THING_LEVEL, 0};

    for (muta_node child = muta_tree_first(tree, direction); child;
         child = muta_tree_next(tree, child)) {
        if (muta_tree_name(tree, child) == N_SOUND && is_for_all(tree, child))
            role.kind = MUTA_THING_SCORE;
        if (muta_tree_name(tree, child) != N_DIRECTION_TYPE)
            continue;
        for (muta_node type = muta_tree_first(tree, child); type; type = muta_tree_next(tree, type))
            consider(tree, type, &role);
    }
    return role;
}

/* Repeats, endings and the ends of jumps divide the piece into stretches. */
static void read_edges(const muta_reading *reading, muta_node node)
{
    static const muta_name starts[] = {N_SEGNO, N_CODA};
    static const muta_name ends[] = {N_DACAPO, N_DALSEGNO, N_FINE, N_TOCODA};
    const muta_tree *const tree = &reading->score->tree;
    muta_part_bar *const bar = &reading->part->bars[reading->bar];
    const char *const location = muta_tree_attribute(tree, node, N_LOCATION);
    const muta_name name = muta_tree_name(tree, node);

    if (name == N_BARLINE &&
        (muta_tree_child(tree, node, N_REPEAT) || muta_tree_child(tree, node, N_ENDING))) {
        bar->opens = bar->opens || (location && strcmp(location, "left") == 0);
        bar->closes = bar->closes || !location || strcmp(location, "right") == 0;
    }
    const muta_node sound = name == N_SOUND ? node : muta_tree_child(tree, node, N_SOUND);
    for (size_t i = 0; sound && name != N_BARLINE && i < MUTA_LENGTH(starts); i++)
        bar->opens = bar->opens || muta_tree_attribute(tree, sound, starts[i]);
    for (size_t i = 0; sound && name != N_BARLINE && i < MUTA_LENGTH(ends); i++)
        bar->closes = bar->closes || muta_tree_attribute(tree, sound, ends[i]);
}

static uint8_t staff_of(const muta_reading *reading, muta_node node)
{
    const muta_node staff = muta_tree_child(&reading->score->tree, node, N_STAFF);

    return staff ? muta_build_staff(muta_tree_leaf(&reading->score->tree, staff), 1) : (uint8_t)1;
}

muta_status muta_build_thing(muta_reading *reading, muta_node node)
{
    const muta_tree *const tree = &reading->score->tree;
    struct role role = {MUTA_THING_GRID, 0};
    muta_fraction offset = MUTA_ZERO;
    muta_thing *thing;

    if (muta_tree_at(tree, node)->kind != MUTA_ELEMENT)
        return MUTA_OK;
    switch (muta_tree_name(tree, node)) {
    case N_DIRECTION:
        role = role_of(tree, node);
        break;
    case N_SOUND:
        role.kind = is_for_all(tree, node) ? MUTA_THING_SCORE : MUTA_THING_LEVEL;
        break;
    case N_HARMONY:
        role.kind = MUTA_THING_HARMONY;
        break;
    case N_FIGURED_BASS:
        role.kind = MUTA_THING_FIGURES;
        break;
    default:
        break;
    }
    read_edges(reading, node);
    thing = MUTA_PUSH(&reading->part->arena, &reading->part->things);
    if (!thing)
        return MUTA_E_MEMORY;
    if (role.kind != MUTA_THING_GRID && muta_build_number(tree, node, N_OFFSET, &offset) &&
        muta_fraction_is_valid(reading->divisions))
        offset = muta_fraction_divide(offset, reading->divisions);
    *thing = (muta_thing){
        .at = {(uint32_t)reading->bar, staff_of(reading, node),
               muta_fraction_add(reading->at, offset)},
        .node = node,
        .offset = offset,
        .kind = (uint8_t)role.kind,
        .span = role.span,
    };
    return MUTA_OK;
}
