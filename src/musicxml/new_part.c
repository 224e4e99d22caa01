/* new_part.c: a part that was not there: its place in the list, and its bars, all rests. */
#include "musicxml/note_form.h"
#include "musicxml/patch.h"
#include <stdio.h>
#include <string.h>

struct making {
    muta_score *score;
    const muta_part_spec *spec;
    const muta_part *like; /* whose signatures and bar lines it has */
    int64_t divisions;
    char id[64];
};

static muta_tree *tree_of(const struct making *making)
{
    return &making->score->tree;
}

/* A leaf, or a holder, behind all that its parent has. */
static muta_status add(muta_tree *tree, muta_node parent, muta_name name, const char *text,
                       muta_node *made)
{
    return muta_patch_insert(tree, parent, muta_patch_last(tree, parent), name, text, made);
}

static muta_status add_number(muta_tree *tree, muta_node parent, muta_name name, int64_t number)
{
    char text[24];
    muta_node made;

    return add(tree, parent, name, muta_text_print(number, text), &made);
}

/* ---- the list ---- */

/* Whether an id stands anywhere in the list of parts. */
static bool has_id(const muta_tree *tree, muta_node node, const char *id)
{
    const char *const of = muta_tree_attribute(tree, node, N_ID);

    if (of && strcmp(of, id) == 0)
        return true;
    for (muta_node child = muta_tree_first(tree, node); child; child = muta_tree_next(tree, child))
        if (has_id(tree, child, id))
            return true;
    return false;
}

static void choose_id(struct making *making, muta_node list)
{
    size_t nth = making->score->part_count;
    char other[80];

    do {
        (void)snprintf(making->id, sizeof making->id, "P%zu", ++nth);
        (void)snprintf(other, sizeof other, "%s-I1", making->id);
    } while (has_id(tree_of(making), list, making->id) || has_id(tree_of(making), list, other));
}

/* A channel that no part has; the tenth is that of drums. */
static int64_t free_channel(const muta_tree *tree, muta_node list)
{
    bool taken[17] = {[10] = true};

    for (muta_node part = muta_tree_first(tree, list); part; part = muta_tree_next(tree, part))
        for (muta_node child = muta_tree_first(tree, part); child;
             child = muta_tree_next(tree, child)) {
            int32_t channel;
            if (muta_tree_name(tree, child) == N_MIDI_INSTRUMENT &&
                muta_build_integer(tree, child, N_MIDI_CHANNEL, &channel) && channel > 0 &&
                channel <= 16)
                taken[channel] = true;
        }
    for (int64_t channel = 1; channel <= 16; channel++)
        if (!taken[channel])
            return channel;
    return 1;
}

static muta_status add_instrument(struct making *making, muta_node list, muta_node score_part)
{
    const muta_part_spec *const spec = making->spec;
    muta_tree *const tree = tree_of(making);
    char id[80];
    muta_node holder;
    muta_node made;

    (void)snprintf(id, sizeof id, "%s-I1", making->id);
    MUTA_TRY(add(tree, score_part, N_SCORE_INSTRUMENT, NULL, &holder));
    MUTA_TRY(muta_tree_set_attribute(tree, holder, N_ID, id));
    MUTA_TRY(add(tree, holder, N_INSTRUMENT_NAME, spec->name, &made));
    MUTA_TRY(add(tree, holder, N_INSTRUMENT_SOUND, spec->sound, &made));
    MUTA_TRY(add(tree, score_part, N_MIDI_INSTRUMENT, NULL, &holder));
    MUTA_TRY(muta_tree_set_attribute(tree, holder, N_ID, id));
    MUTA_TRY(add_number(tree, holder, N_MIDI_CHANNEL, free_channel(tree, list)));
    return add_number(tree, holder, N_MIDI_PROGRAM, spec->program);
}

/* The entry of a part; behind the end of the brackets that it stands in. */
static muta_node place_in_list(const muta_tree *tree, muta_node list, const muta_part *after)
{
    muta_node place = 0;
    int depth = 0;

    for (muta_node child = muta_tree_first(tree, list); child;
         child = muta_tree_next(tree, child)) {
        const char *const id = muta_tree_attribute(tree, child, N_ID);
        const char *const type = muta_tree_attribute(tree, child, N_TYPE);
        if (muta_tree_name(tree, child) == N_PART_GROUP)
            depth += type && strcmp(type, "start") == 0 ? 1 : -1;
        const bool is_it = id && strcmp(id, after->id) == 0;
        if (muta_tree_name(tree, child) == N_SCORE_PART && (is_it || (place && depth > 0)))
            place = child;
        if (place && depth <= 0)
            return child;
    }
    return place;
}

/* The last part that stands before a place in the list. */
static size_t part_before(const struct making *making, muta_node list, muta_node place)
{
    const muta_tree *const tree = tree_of(making);
    size_t found = 0;

    for (muta_node child = muta_tree_first(tree, list); child;
         child = muta_tree_next(tree, child)) {
        const char *const id = muta_tree_attribute(tree, child, N_ID);
        for (size_t i = 0; id && i < making->score->part_count; i++)
            if (muta_tree_name(tree, child) == N_SCORE_PART &&
                strcmp(making->score->parts[i].id, id) == 0)
                found = i;
        if (child == place)
            break;
    }
    return found;
}

static muta_status add_entry(struct making *making, muta_node list, muta_node place)
{
    muta_tree *const tree = tree_of(making);
    char name[256];
    muta_node entry;
    muta_node made;

    choose_id(making, list);
    MUTA_TRY(muta_patch_insert(tree, list, place, N_SCORE_PART, NULL, &entry));
    MUTA_TRY(muta_tree_set_attribute(tree, entry, N_ID, making->id));
    MUTA_TRY(add(tree, entry, N_PART_NAME,
                 muta_part_new_name(making->score, making->spec->name, name, sizeof name), &made));
    MUTA_TRY(add(tree, entry, N_PART_ABBREVIATION, making->spec->abbreviation, &made));
    return add_instrument(making, list, entry);
}

/* ---- the bars ---- */

/* The signature sounds as it does in the part that it comes from. */
static muta_status add_key(struct making *making, muta_node attributes, muta_node key,
                           muta_moment at)
{
    muta_tree *const tree = tree_of(making);
    const int32_t by = muta_interval_fifths(muta_part_transposition_at(making->like, at));
    int32_t fifths;
    muta_node copy;
    char text[16];

    MUTA_TRY(muta_note_form_copy(tree, key, &copy));
    muta_tree_drop_attribute(tree, copy, N_NUMBER);
    muta_tree_insert(tree, attributes, muta_patch_last(tree, attributes), copy);
    if (by == 0 || !muta_build_integer(tree, copy, N_FIFTHS, &fifths))
        return MUTA_OK;
    fifths += by;
    fifths += fifths > 7 ? -12 : fifths < -7 ? 12 : 0;
    (void)snprintf(text, sizeof text, "%d", fifths);
    MUTA_TRY(muta_patch_leaf(tree, copy, 0, N_CANCEL, NULL));
    return muta_patch_leaf(tree, copy, 0, N_FIFTHS, text);
}

static muta_status add_clefs(struct making *making, muta_node attributes)
{
    static const muta_clef_sign clefs[] = {MUTA_CLEF_G, MUTA_CLEF_F};
    muta_tree *const tree = tree_of(making);
    muta_node clef;
    muta_node made;

    MUTA_TRY(add_number(tree, attributes, N_STAVES, 2));
    for (size_t i = 0; i < MUTA_LENGTH(clefs); i++) {
        MUTA_TRY(add(tree, attributes, N_CLEF, NULL, &clef));
        MUTA_TRY(muta_tree_set_attribute(tree, clef, N_NUMBER, i == 0 ? "1" : "2"));
        MUTA_TRY(add(tree, clef, N_SIGN, muta_clef_of(clefs[i])->name, &made));
        MUTA_TRY(add_number(tree, clef, N_LINE, muta_clef_of(clefs[i])->line));
    }
    return MUTA_OK;
}

/* What the bar that it is like says of key and metre at its start. */
static void find_signatures(const struct making *making, muta_node cell, muta_node *key,
                            muta_node *time)
{
    const muta_tree *const tree = tree_of(making);

    *key = *time = 0;
    for (muta_node child = cell ? muta_tree_first(tree, cell) : 0;
         child && muta_tree_name(tree, child) != N_NOTE; child = muta_tree_next(tree, child)) {
        if (muta_tree_name(tree, child) != N_ATTRIBUTES)
            continue;
        const muta_node said_key = muta_tree_child(tree, child, N_KEY);
        const muta_node said_time = muta_tree_child(tree, child, N_TIME);
        *key = said_key ? said_key : *key;
        *time = said_time ? said_time : *time;
    }
}

static muta_status add_attributes(struct making *making, size_t bar, muta_node cell)
{
    muta_tree *const tree = tree_of(making);
    muta_node attributes;
    muta_node key;
    muta_node time;
    muta_node copy;

    find_signatures(making, making->like->bars[bar].cell, &key, &time);
    if (bar > 0 && !key && !time)
        return MUTA_OK;
    MUTA_TRY(add(tree, cell, N_ATTRIBUTES, NULL, &attributes));
    if (bar == 0)
        MUTA_TRY(add_number(tree, attributes, N_DIVISIONS, making->divisions));
    if (key)
        MUTA_TRY(add_key(making, attributes, key,
                         (muta_moment){(uint32_t)bar, MUTA_ALL_STAVES, MUTA_ZERO}));
    if (time) {
        MUTA_TRY(muta_note_form_copy(tree, time, &copy));
        muta_tree_drop_attribute(tree, copy, N_NUMBER);
        muta_tree_insert(tree, attributes, muta_patch_last(tree, attributes), copy);
    }
    return bar == 0 ? add_clefs(making, attributes) : MUTA_OK;
}

static muta_status add_rest(struct making *making, muta_node cell, int64_t duration, int voice,
                            int staff)
{
    muta_tree *const tree = tree_of(making);
    muta_node note;
    muta_node rest;

    MUTA_TRY(add(tree, cell, N_NOTE, NULL, &note));
    MUTA_TRY(add(tree, note, N_REST, NULL, &rest));
    MUTA_TRY(muta_tree_set_attribute(tree, rest, N_MEASURE, "yes"));
    MUTA_TRY(add_number(tree, note, N_DURATION, duration));
    MUTA_TRY(add_number(tree, note, N_VOICE, voice));
    return add_number(tree, note, N_STAFF, staff);
}

/* Bar lines on one side of the bar that it is like. */
static muta_status copy_bar_lines(struct making *making, size_t bar, muta_node cell, bool is_left)
{
    muta_tree *const tree = tree_of(making);
    const muta_node from = making->like->bars[bar].cell;

    for (muta_node child = from ? muta_tree_first(tree, from) : 0; child;
         child = muta_tree_next(tree, child)) {
        const char *const location = muta_tree_attribute(tree, child, N_LOCATION);
        muta_node copy;
        if (muta_tree_name(tree, child) != N_BARLINE ||
            (location && strcmp(location, "middle") == 0) ||
            (location && strcmp(location, "left") == 0) != is_left)
            continue;
        MUTA_TRY(muta_note_form_copy(tree, child, &copy));
        muta_tree_insert(tree, cell, muta_patch_last(tree, cell), copy);
    }
    return MUTA_OK;
}

static muta_status add_bar(struct making *making, size_t bar, muta_node holder)
{
    muta_tree *const tree = tree_of(making);
    const muta_bar *const of = &making->score->bars[bar];
    const int64_t duration = muta_fraction_scale(of->length, making->divisions).top;
    muta_node cell;
    muta_node backup;

    MUTA_TRY(add(tree, holder, N_MEASURE, NULL, &cell));
    muta_tree_at(tree, cell)->tail = muta_tree_at(tree, cell)->before;
    MUTA_TRY(muta_tree_set_attribute(tree, cell, N_NUMBER, of->number));
    if (of->implicit)
        MUTA_TRY(muta_tree_set_attribute(tree, cell, N_IMPLICIT, "yes"));
    MUTA_TRY(add_attributes(making, bar, cell));
    MUTA_TRY(copy_bar_lines(making, bar, cell, true));
    if (duration > 0) {
        MUTA_TRY(add_rest(making, cell, duration, 1, 1));
        MUTA_TRY(add(tree, cell, N_BACKUP, NULL, &backup));
        MUTA_TRY(add_number(tree, backup, N_DURATION, duration));
        MUTA_TRY(add_rest(making, cell, duration, 5, 2));
    }
    return copy_bar_lines(making, bar, cell, false);
}

const char *muta_part_new_name(const muta_score *score, const char *name, char *text, size_t room)
{
    bool is_taken = true;

    (void)snprintf(text, room, "%.200s", name);
    for (size_t nth = 1; is_taken; nth++) {
        if (nth > 1)
            (void)snprintf(text, room, "%.200s %zu", name, nth);
        is_taken = false;
        for (size_t i = 0; i < score->part_count; i++)
            is_taken = is_taken || muta_text_alike(score->parts[i].name, text);
    }
    return text;
}

/* Of the parts that have all bars, one that sounds as written. */
static const muta_part *find_like(const muta_score *score)
{
    const muta_moment start = {0, MUTA_ALL_STAVES, MUTA_ZERO};
    const muta_part *found = NULL;

    for (size_t i = 0; i < score->part_count; i++) {
        const muta_part *const part = &score->parts[i];
        if (part->bar_count == score->bar_count && part->has_key &&
            muta_interval_fifths(muta_part_transposition_at(part, start)) == 0)
            return part;
        if (part->bar_count == score->bar_count && !found)
            found = part;
    }
    return found;
}

/* So many divisions that every bar is a whole number of them; 0 when there is none such. */
static int64_t find_divisions(const muta_score *score)
{
    int64_t divisions = 1;

    for (size_t bar = 0; bar < score->bar_count; bar++) {
        const muta_fraction length = muta_fraction_scale(score->bars[bar].length, divisions);
        if (!muta_fraction_is_valid(length) || divisions > 10000)
            return 0;
        divisions *= length.bottom;
    }
    return divisions;
}

static muta_status make(struct making *making, size_t after, size_t *made)
{
    muta_score *const score = making->score;
    muta_tree *const tree = &score->tree;
    const muta_node list = muta_tree_child(tree, tree->root, N_PART_LIST);
    const muta_node place = list ? place_in_list(tree, list, &score->parts[after]) : 0;
    muta_node holder;

    if (!place)
        return MUTA_E_DATA;
    const size_t before = part_before(making, list, place);
    const muta_node sibling = muta_patch_part(score, &score->parts[before]);
    MUTA_TRY(add_entry(making, list, place));
    MUTA_TRY(muta_patch_insert(tree, tree->root, sibling, N_PART, NULL, &holder));
    MUTA_TRY(muta_tree_set_attribute(tree, holder, N_ID, making->id));
    for (size_t bar = 0; bar < score->bar_count; bar++)
        MUTA_TRY(add_bar(making, bar, holder));
    *made = before + 1;
    return muta_build_again(score);
}

muta_status muta_score_add_part(muta_score *score, size_t after, const muta_part_spec *spec,
                                size_t *made, muta_diags *diags)
{
    struct making making = {
        .score = score, .spec = spec, .like = find_like(score), .divisions = find_divisions(score)};

    if (!score->is_timewise && !score->own_grids && making.like && making.divisions > 0) {
        const muta_status status = make(&making, after, made);
        if (status != MUTA_E_DATA)
            return status;
    }
    muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE,
                  "a part can be added only to a partwise score with common bar lines and a list "
                  "of its parts");
    return MUTA_E_DATA;
}
