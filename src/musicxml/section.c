/* section.c: bars said again at the end, and parts said again below. */
#include "musicxml/note_form.h"
#include "musicxml/patch.h"
#include "musicxml/rewrite.h"
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

/* ---- what is in force ---- */

enum {
    STAVES = 16
};

/* The nodes that hold for a part at a bar line. */
struct state {
    muta_node divisions;
    muta_node key;
    muta_node time;
    muta_node staves;
    muta_node transpose;
    muta_node clefs[STAVES];
    muta_node tempo;          /* a direction */
    muta_node levels[STAVES]; /* directions */
    muta_node chord;
};

static size_t staff_of(const muta_tree *tree, muta_node node)
{
    const char *const number = muta_tree_attribute(tree, node, N_NUMBER);
    const uint8_t staff =
        number ? muta_build_staff((muta_text){number, strlen(number)}, 1) : (uint8_t)1;

    return staff < STAVES ? staff : 0;
}

static void read_attributes(const muta_tree *tree, muta_node attributes, struct state *state)
{
    for (muta_node child = muta_tree_first(tree, attributes); child;
         child = muta_tree_next(tree, child))
        switch (muta_tree_name(tree, child)) {
        case N_DIVISIONS:
            state->divisions = child;
            break;
        case N_KEY:
            state->key = child;
            break;
        case N_TIME:
            state->time = child;
            break;
        case N_STAVES:
            state->staves = child;
            break;
        case N_TRANSPOSE:
            state->transpose = child;
            break;
        case N_CLEF:
            state->clefs[staff_of(tree, child)] = child;
            break;
        default:
            break;
        }
}

static bool sets_tempo(const muta_tree *tree, muta_node direction)
{
    const muta_node sound = muta_tree_child(tree, direction, N_SOUND);

    return sound && muta_tree_attribute(tree, sound, N_TEMPO);
}

/* The staff on which a direction sets a level that lasts; 0 when it sets none. */
static size_t staff_of_level(const muta_tree *tree, muta_node direction)
{
    const muta_node staff = muta_tree_child(tree, direction, N_STAFF);
    size_t found = 0;

    for (muta_node type = muta_tree_first(tree, direction); type; type = muta_tree_next(tree, type))
        if (muta_tree_name(tree, type) == N_DIRECTION_TYPE &&
            muta_tree_child(tree, type, N_DYNAMICS))
            found = staff ? muta_build_staff(muta_tree_leaf(tree, staff), 1) : 1;
    return found < STAVES ? found : 0;
}

static void read_child(const muta_tree *tree, muta_node child, struct state *state)
{
    switch (muta_tree_name(tree, child)) {
    case N_ATTRIBUTES:
        read_attributes(tree, child, state);
        break;
    case N_DIRECTION: {
        const size_t staff = staff_of_level(tree, child);
        if (sets_tempo(tree, child))
            state->tempo = child;
        if (staff > 0)
            state->levels[staff] = child;
        break;
    }
    case N_HARMONY:
        state->chord = child;
        break;
    default:
        break;
    }
}

static void find_state(const muta_score *score, const muta_part *part, size_t bar,
                       struct state *state)
{
    const muta_tree *const tree = &score->tree;

    *state = (struct state){0};
    for (size_t i = 0; i < bar && i < part->bar_count; i++)
        for (muta_node child = part->bars[i].cell ? muta_tree_first(tree, part->bars[i].cell) : 0;
             child; child = muta_tree_next(tree, child))
            read_child(tree, child, state);
}

/* Puts a copy of a node that is in force into attributes, unless they say their own. */
static muta_status say(muta_tree *tree, muta_node attributes, muta_node node, size_t staff,
                       const muta_name *before, size_t count)
{
    muta_node copy;

    if (!node)
        return MUTA_OK;
    for (muta_node child = muta_tree_first(tree, attributes); child;
         child = muta_tree_next(tree, child))
        if (muta_tree_name(tree, child) == muta_tree_name(tree, node) &&
            (staff == 0 || staff_of(tree, child) == staff))
            return MUTA_OK;
    MUTA_TRY(muta_note_form_copy(tree, node, &copy));
    muta_tree_insert(tree, attributes, muta_patch_place(tree, attributes, before, count), copy);
    return MUTA_OK;
}

/* Takes the end of a span out of its direction, which goes too when it says nothing else. */
static void take_out_end(muta_tree *tree, muta_node cell, muta_node direction)
{
    muta_node next;

    for (muta_node type = muta_tree_first(tree, direction); type; type = next) {
        next = muta_tree_next(tree, type);
        if (muta_tree_name(tree, type) != N_DIRECTION_TYPE)
            continue;
        for (size_t i = 0; i < MUTA_DIRECTION_SPANS; i++) {
            const muta_node end = muta_tree_child(tree, type, muta_direction_spans[i]);
            if (end)
                muta_tree_remove(tree, type, end);
        }
        if (!muta_tree_first(tree, type))
            muta_tree_remove(tree, direction, type);
    }
    if (!muta_tree_child(tree, direction, N_DIRECTION_TYPE))
        muta_tree_remove(tree, cell, direction);
}

/* Puts a copy of a direction or chord symbol that is in force before the first note of a cell. */
static muta_status say_thing(muta_tree *tree, muta_node cell, muta_node thing)
{
    muta_node after = 0;
    muta_node copy;

    if (!thing)
        return MUTA_OK;
    for (muta_node child = muta_tree_first(tree, cell); child; child = muta_tree_next(tree, child))
        if (muta_tree_name(tree, child) == N_ATTRIBUTES)
            after = child;
        else if (muta_tree_name(tree, child) != N_PRINT)
            break;
    MUTA_TRY(muta_note_form_copy(tree, thing, &copy));
    MUTA_TRY(muta_patch_leaf(tree, copy, 0, N_OFFSET, NULL));
    muta_tree_insert(tree, cell, after, copy);
    /* What is in force begins nothing here. */
    if (muta_tree_name(tree, copy) == N_DIRECTION)
        take_out_end(tree, cell, copy);
    return MUTA_OK;
}

static void unsay(muta_node *said, muta_node again)
{
    if (again)
        *said = 0;
}

/* Forgets what the cell says itself before its first note. */
static void forget_said(const muta_tree *tree, muta_node cell, struct state *state)
{
    struct state said = {0};

    for (muta_node child = muta_tree_first(tree, cell);
         child && muta_tree_name(tree, child) != N_NOTE; child = muta_tree_next(tree, child))
        read_child(tree, child, &said);
    for (size_t staff = 0; staff < STAVES; staff++) {
        unsay(&state->levels[staff], said.levels[staff]);
        unsay(&state->clefs[staff], said.clefs[staff]);
    }
    unsay(&state->chord, said.chord);
    unsay(&state->tempo, said.tempo);
    unsay(&state->divisions, said.divisions);
    unsay(&state->key, said.key);
    unsay(&state->time, said.time);
    unsay(&state->staves, said.staves);
    unsay(&state->transpose, said.transpose);
}

static muta_status say_things(muta_tree *tree, muta_node cell, struct state *state)
{
    forget_said(tree, cell, state);
    MUTA_TRY(say_thing(tree, cell, state->chord));
    for (size_t staff = 1; staff < STAVES; staff++)
        MUTA_TRY(say_thing(tree, cell, state->levels[staff]));
    return say_thing(tree, cell, state->tempo);
}

/* The first bar of a section says all that is in force there. */
static muta_status say_state(muta_tree *tree, muta_node cell, struct state *state)
{
    static const muta_name before[] = {N_FOOTNOTE, N_LEVEL,        N_DIVISIONS,   N_KEY,
                                       N_TIME,     N_STAVES,       N_PART_SYMBOL, N_INSTRUMENTS,
                                       N_CLEF,     N_STAFF_DETAILS};
    muta_node attributes;

    MUTA_TRY(say_things(tree, cell, state));
    bool any = state->divisions || state->key || state->time || state->staves || state->transpose;
    for (size_t staff = 1; staff < STAVES; staff++)
        any = any || state->clefs[staff];
    if (!any)
        return MUTA_OK;
    MUTA_TRY(muta_patch_attributes(tree, cell, &attributes));
    MUTA_TRY(say(tree, attributes, state->divisions, 0, before, 2));
    MUTA_TRY(say(tree, attributes, state->key, 0, before, 3));
    MUTA_TRY(say(tree, attributes, state->time, 0, before, 4));
    MUTA_TRY(say(tree, attributes, state->staves, 0, before, 5));
    for (size_t staff = 1; staff < STAVES; staff++)
        MUTA_TRY(say(tree, attributes, state->clefs[staff], staff, before, 9));
    return say(tree, attributes, state->transpose, 0, before, 10);
}

/* ---- copies of cells ---- */

/* Breaks and widths belong to the bar that was copied. */
static void drop_layout(muta_tree *tree, muta_node cell)
{
    muta_node next;

    muta_tree_drop_attribute(tree, cell, N_WIDTH);
    for (muta_node child = muta_tree_first(tree, cell); child; child = next) {
        next = muta_tree_next(tree, child);
        if (muta_tree_name(tree, child) == N_PRINT)
            muta_tree_remove(tree, cell, child);
    }
}

/* The number behind the last one; a short bar without a number of its own keeps out of the count.
 */
static muta_status number_copy(muta_tree *tree, muta_node cell, int64_t *last)
{
    const char *const implicit = muta_tree_attribute(tree, cell, N_IMPLICIT);
    char text[32];

    if (implicit && strcmp(implicit, "yes") == 0)
        (void)snprintf(text, sizeof text, "X%" PRId64, *last + 1);
    else
        (void)snprintf(text, sizeof text, "%" PRId64, ++*last);
    return muta_tree_set_attribute(tree, cell, N_NUMBER, text);
}

static int64_t last_number(const muta_score *score)
{
    int64_t last = 0;

    for (size_t bar = 0; bar < score->bar_count; bar++) {
        int64_t number;
        const char *const end = muta_text_count(score->bars[bar].number, &number);
        if (end && !*end)
            last = number;
    }
    return last;
}

/* ---- bar lines ---- */

static muta_node right_bar_line(const muta_tree *tree, muta_node cell)
{
    muta_node found = 0;

    for (muta_node child = muta_tree_first(tree, cell); child;
         child = muta_tree_next(tree, child)) {
        const char *const location = muta_tree_attribute(tree, child, N_LOCATION);
        if (muta_tree_name(tree, child) == N_BARLINE &&
            (!location || strcmp(location, "right") == 0))
            found = child;
    }
    return found;
}

static muta_status put_bar_line(muta_tree *tree, muta_node cell, const char *style)
{
    muta_node line;
    muta_node leaf;

    MUTA_TRY(muta_patch_insert(tree, cell, muta_patch_last(tree, cell), N_BARLINE, NULL, &line));
    MUTA_TRY(muta_tree_set_attribute(tree, line, N_LOCATION, "right"));
    return muta_patch_insert(tree, line, 0, N_BAR_STYLE, style, &leaf);
}

/* The old end becomes a double bar; its closing line goes to the new end. A repeat stays. */
static muta_status close_section(muta_tree *tree, muta_node old_last, muta_node new_last)
{
    const muta_node closing = right_bar_line(tree, old_last);
    const muta_node copied = right_bar_line(tree, new_last);
    const bool repeats = closing && (muta_tree_child(tree, closing, N_REPEAT) ||
                                     muta_tree_child(tree, closing, N_ENDING));

    if (copied && !muta_tree_child(tree, copied, N_REPEAT) &&
        !muta_tree_child(tree, copied, N_ENDING))
        muta_tree_remove(tree, new_last, copied);
    else if (copied)
        return MUTA_OK;
    if (closing && !repeats) {
        muta_tree_remove(tree, old_last, closing);
        muta_tree_insert(tree, new_last, muta_patch_last(tree, new_last), closing);
    } else {
        MUTA_TRY(put_bar_line(tree, new_last, "light-heavy"));
    }
    return repeats ? MUTA_OK : put_bar_line(tree, old_last, "light-light");
}

/* ---- words ---- */

static bool has_jump(const muta_score *score)
{
    const muta_tree *const tree = &score->tree;

    for (size_t i = 0; i < score->part_count; i++)
        for (size_t j = 0; j < score->parts[i].things.count; j++) {
            const muta_node node = score->parts[i].things.at[j].node;
            const muta_node sound =
                muta_tree_name(tree, node) == N_SOUND ? node : muta_tree_child(tree, node, N_SOUND);
            if (sound && (muta_tree_attribute(tree, sound, N_DACAPO) ||
                          muta_tree_attribute(tree, sound, N_DALSEGNO)))
                return true;
        }
    return false;
}

/* Words above a bar, put behind `after`. */
static muta_status put_words(muta_tree *tree, muta_node cell, muta_node after, const char *text,
                             bool bold, muta_node *direction)
{
    muta_node type;
    muta_node words;

    MUTA_TRY(muta_patch_insert(tree, cell, after, N_DIRECTION, NULL, direction));
    MUTA_TRY(muta_tree_set_attribute(tree, *direction, N_PLACEMENT, "above"));
    MUTA_TRY(muta_patch_insert(tree, *direction, 0, N_DIRECTION_TYPE, NULL, &type));
    MUTA_TRY(muta_patch_insert(tree, type, 0, N_WORDS, text, &words));
    return bold ? muta_tree_set_attribute(tree, words, N_FONT_WEIGHT, "bold") : MUTA_OK;
}

/* Where a jump back would run on into the section, the theme says where it ends. */
static muta_status put_fine(muta_tree *tree, muta_node cell)
{
    muta_node direction;
    muta_node sound;

    MUTA_TRY(put_words(tree, cell, muta_patch_last(tree, cell), "Fine", false, &direction));
    MUTA_TRY(muta_patch_insert(tree, direction, muta_tree_first(tree, direction), N_SOUND, NULL,
                               &sound));
    return muta_tree_set_attribute(tree, sound, N_FINE, "yes");
}

static muta_status put_heading(muta_tree *tree, muta_node cell, const char *heading)
{
    static const muta_name before[] = {N_PRINT};
    muta_node direction;
    muta_node after = muta_patch_place(tree, cell, before, MUTA_LENGTH(before));
    const muta_node first = after ? muta_tree_next(tree, after) : muta_tree_first(tree, cell);

    if (first && muta_tree_name(tree, first) == N_ATTRIBUTES)
        after = first;
    return put_words(tree, cell, after, heading, true, &direction);
}

/* ---- sections ---- */

/* What is in force at the end as well need not be said again. */
static void forget(const muta_tree *tree, muta_node *said, muta_node at_end)
{
    if (*said && at_end && muta_patch_says_same(tree, *said, at_end))
        *said = 0;
}

static void forget_known(const muta_tree *tree, const struct state *known, struct state *state)
{
    const struct state end = *known;

    forget(tree, &state->divisions, end.divisions);
    forget(tree, &state->key, end.key);
    forget(tree, &state->time, end.time);
    forget(tree, &state->staves, end.staves);
    forget(tree, &state->transpose, end.transpose);
    forget(tree, &state->chord, end.chord);
    forget(tree, &state->tempo, end.tempo);
    for (size_t i = 0; i < STAVES; i++) {
        forget(tree, &state->clefs[i], end.clefs[i]);
        forget(tree, &state->levels[i], end.levels[i]);
    }
}

/* What the first bar says itself and holds already is not said twice. */
static void drop_known(muta_tree *tree, const struct state *end, muta_node cell)
{
    muta_node next;
    muta_node attributes = muta_tree_first(tree, cell);

    while (attributes && muta_tree_name(tree, attributes) != N_ATTRIBUTES)
        attributes = muta_tree_next(tree, attributes);
    for (muta_node child = attributes ? muta_tree_first(tree, attributes) : 0; child;
         child = next) {
        const muta_node known[] = {end->divisions, end->key,
                                   end->time,      end->staves,
                                   end->transpose, end->clefs[staff_of(tree, child)]};
        next = muta_tree_next(tree, child);
        for (size_t i = 0; i < MUTA_LENGTH(known); i++)
            if (known[i] && muta_patch_says_same(tree, child, known[i])) {
                muta_tree_remove(tree, attributes, child);
                break;
            }
    }
    if (attributes && !muta_tree_first(tree, attributes))
        muta_tree_remove(tree, cell, attributes);
}

/* A part that gets sections: bars `from` to `to`, said again. */
struct appending {
    muta_score *score;
    const muta_part *part;
    muta_node holder;
    size_t from;
    size_t to;
    int64_t number;       /* of the last bar so far */
    muta_node last;       /* the last cell so far */
    struct state at_from; /* what is in force where the bars begin, */
    struct state at_to;   /* where they end, */
    struct state at_end;  /* and at the end of the part */
};

/* One section more; what is in force before it need not be said again. */
static muta_status append_cells(struct appending *appending, const struct state *known)
{
    const muta_part *const part = appending->part;
    muta_tree *const tree = &appending->score->tree;
    struct state state = appending->at_from;
    const muta_node old_last = appending->last;

    if (known)
        forget_known(tree, known, &state);
    if (part != &appending->score->parts[0])
        state.tempo = 0;
    for (size_t bar = appending->from; bar < appending->to && bar < part->bar_count; bar++) {
        muta_node copy;
        MUTA_TRY(muta_note_form_copy(tree, part->bars[bar].cell, &copy));
        drop_layout(tree, copy);
        MUTA_TRY(number_copy(tree, copy, &appending->number));
        if (bar == appending->from && known)
            drop_known(tree, known, copy);
        if (bar == appending->from)
            MUTA_TRY(say_state(tree, copy, &state));
        muta_tree_insert(tree, appending->holder, appending->last, copy);
        appending->last = copy;
    }
    return old_last && appending->last != old_last ? close_section(tree, old_last, appending->last)
                                                   : MUTA_OK;
}

static void prune_things(muta_score *score, const muta_part *part, const muta_sections *sections)
{
    for (uint32_t i = 0; i < part->things.count; i++) {
        const muta_thing *const thing = &part->things.at[i];
        const muta_thing *partner;
        const size_t section = muta_section_of(sections, thing->at.bar);
        if (section == 0 ||
            (thing->kind != MUTA_THING_SPAN_START && thing->kind != MUTA_THING_SPAN_STOP))
            continue;
        partner = muta_things_partner(part, i);
        if (!partner || muta_section_of(sections, partner->at.bar) != section)
            take_out_end(&score->tree, part->bars[thing->at.bar].cell, thing->node);
    }
}

/* Whether the other note of a tie stands in the same section. */
static bool is_tied(const muta_part *part, uint32_t other, const muta_sections *sections,
                    size_t section)
{
    return other != MUTA_NO_NOTE && muta_section_of(sections, part->notes.at[other].bar) == section;
}

/* Ends of ties, slurs and time spans that have no partner among the copied bars are taken off. */
static muta_status prune(muta_score *score, uint32_t index, const muta_sections *sections)
{
    muta_plan plan = {.score = score};
    muta_rewriting rewriting = {.plan = &plan, .score = score, .part = index};
    muta_part *const part = &score->parts[index];
    muta_status status = muta_spans_find(&rewriting);

    if (status == MUTA_OK)
        status = muta_spans_prune(&rewriting, sections);
    muta_arena_clear(&rewriting.arena);
    MUTA_TRY(status);
    prune_things(score, part, sections);
    for (size_t i = 0; i < part->notes.count; i++) {
        muta_note *const note = &part->notes.at[i];
        const size_t section = muta_section_of(sections, note->bar);
        if (section == 0)
            continue;
        if ((note->flags & MUTA_NOTE_TIE_STOP) &&
            !is_tied(part, note->tied_from, sections, section))
            note->flags |= MUTA_NOTE_CUT_STOP;
        if ((note->flags & MUTA_NOTE_TIE_START) && !is_tied(part, note->tied_to, sections, section))
            note->flags |= MUTA_NOTE_CUT_START;
        if (note->flags & (MUTA_NOTE_CUT_START | MUTA_NOTE_CUT_STOP)) {
            note->changed |= MUTA_CHANGED_TIE;
            MUTA_TRY(muta_patch_note(score, part, note, NULL));
        }
    }
    return MUTA_OK;
}

/* The sections of one part, under their headings. */
static muta_status append_to_part(muta_score *score, const muta_part *part, size_t from, size_t to,
                                  bool is_alone, const char *const *headings, size_t count)
{
    struct appending appending = {.score = score,
                                  .part = part,
                                  .holder = muta_patch_part(score, part),
                                  .from = from,
                                  .to = to,
                                  .number = last_number(score),
                                  .last = part->bars[part->bar_count - 1].cell};

    find_state(score, part, from, &appending.at_from);
    find_state(score, part, to, &appending.at_to);
    find_state(score, part, part->bar_count, &appending.at_end);
    for (size_t nth = 0; nth < count; nth++) {
        const muta_node before = appending.last;
        MUTA_TRY(append_cells(&appending, nth > 0    ? &appending.at_to
                                          : is_alone ? NULL
                                                     : &appending.at_end));
        if (part == &score->parts[0] && headings && headings[nth])
            MUTA_TRY(
                put_heading(&score->tree, muta_tree_next(&score->tree, before), headings[nth]));
    }
    return MUTA_OK;
}

muta_status muta_score_append_sections(muta_score *score, size_t from, size_t to, bool is_alone,
                                       const char *const *headings, size_t count, muta_diags *diags)
{
    const muta_sections sections = {score->bar_count, to - from};
    const bool jumps = has_jump(score);

    if (score->is_timewise || score->own_grids) {
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE,
                      "a section can be added only to a partwise score with common bar lines");
        return MUTA_E_DATA;
    }
    for (size_t i = 0; i < score->part_count; i++) {
        const muta_part *const part = &score->parts[i];
        if (part->bar_count != score->bar_count || part->bar_count == 0) {
            muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE,
                          "a section needs parts of equally many bars; part \"%.60s\" has fewer",
                          part->name);
            return MUTA_E_DATA;
        }
        if (jumps && i == 0)
            MUTA_TRY(put_fine(&score->tree, part->bars[part->bar_count - 1].cell));
        MUTA_TRY(append_to_part(score, part, from, to, is_alone, headings, count));
    }
    MUTA_TRY(muta_own_chords_repeat(score, from, to, count));
    MUTA_TRY(muta_build_again(score));
    for (uint32_t i = 0; i < score->part_count; i++)
        MUTA_TRY(prune(score, i, &sections));
    return muta_build_again(score);
}

muta_status muta_score_keep_section(muta_score *score, size_t first, size_t from)
{
    muta_tree *const tree = &score->tree;

    for (size_t i = 0; i < score->part_count; i++) {
        const muta_part *const part = &score->parts[i];
        const muta_node holder = muta_patch_part(score, part);
        for (size_t bar = first; bar < part->bar_count; bar++) {
            const size_t old = bar - first + from;
            if (old < first)
                MUTA_TRY(muta_tree_set_attribute(tree, part->bars[bar].cell, N_NUMBER,
                                                 score->bars[old].number));
        }
        /* Unlinked from the front, each in one step. */
        for (size_t bar = 0; bar < first; bar++)
            muta_tree_remove(tree, holder, part->bars[bar].cell);
    }
    muta_own_chords_drop(score, first);
    return muta_build_again(score);
}

/* ---- parts ---- */

static bool has_id(const muta_tree *tree, muta_node list, const char *id)
{
    for (muta_node child = muta_tree_first(tree, list); child;
         child = muta_tree_next(tree, child)) {
        const char *const of = muta_tree_attribute(tree, child, N_ID);
        if (of && strcmp(of, id) == 0)
            return true;
    }
    return false;
}

/* Instruments of a part have ids, which sounds and notes name: the copy's are made its own. */
static muta_status rename_instruments(muta_tree *tree, muta_node node, const char *suffix)
{
    const muta_name name = muta_tree_name(tree, node);
    char text[256];

    if (name == N_SCORE_INSTRUMENT || name == N_MIDI_INSTRUMENT || name == N_INSTRUMENT ||
        name == N_MIDI_DEVICE) {
        const char *const id = muta_tree_attribute(tree, node, N_ID);
        if (id) {
            (void)snprintf(text, sizeof text, "%.200s%s", id, suffix);
            MUTA_TRY(muta_tree_set_attribute(tree, node, N_ID, text));
        }
    }
    for (muta_node child = muta_tree_first(tree, node); child; child = muta_tree_next(tree, child))
        MUTA_TRY(rename_instruments(tree, child, suffix));
    return MUTA_OK;
}

/* A deep copy that keeps the ids of instruments, which note_form leaves out elsewhere. */
static muta_status copy_instrument_ids(muta_tree *tree, muta_node from, muta_node to)
{
    muta_node other = muta_tree_first(tree, to);

    if (muta_tree_name(tree, from) == N_SCORE_INSTRUMENT ||
        muta_tree_name(tree, from) == N_MIDI_INSTRUMENT ||
        muta_tree_name(tree, from) == N_MIDI_DEVICE) {
        const char *const id = muta_tree_attribute(tree, from, N_ID);
        if (id)
            MUTA_TRY(muta_tree_set_attribute(tree, to, N_ID, id));
    }
    for (muta_node child = muta_tree_first(tree, from); child && other;
         child = muta_tree_next(tree, child), other = muta_tree_next(tree, other))
        MUTA_TRY(copy_instrument_ids(tree, child, other));
    return MUTA_OK;
}

static muta_status copy_score_part(muta_score *score, const muta_part *part, const char *id,
                                   const char *suffix)
{
    muta_tree *const tree = &score->tree;
    const muta_node list = muta_tree_child(tree, tree->root, N_PART_LIST);
    char name[256];
    char own[256];

    for (muta_node child = list ? muta_tree_first(tree, list) : 0; child;
         child = muta_tree_next(tree, child)) {
        const char *const of = muta_tree_attribute(tree, child, N_ID);
        muta_node copy;
        if (muta_tree_name(tree, child) != N_SCORE_PART || !of || strcmp(of, part->id) != 0)
            continue;
        MUTA_TRY(muta_note_form_copy(tree, child, &copy));
        MUTA_TRY(copy_instrument_ids(tree, child, copy));
        MUTA_TRY(rename_instruments(tree, copy, suffix));
        MUTA_TRY(muta_tree_set_attribute(tree, copy, N_ID, id));
        const muta_node leaf = muta_tree_child(tree, copy, N_PART_NAME);
        (void)snprintf(name, sizeof name, "%.180s, varied", part->name);
        if (leaf)
            MUTA_TRY(
                muta_tree_set_text(tree, leaf, muta_part_new_name(score, name, own, sizeof own)));
        const muta_node display = muta_tree_child(tree, copy, N_PART_NAME_DISPLAY);
        if (display)
            muta_tree_remove(tree, copy, display);
        muta_tree_insert(tree, list, child, copy);
        return MUTA_OK;
    }
    return MUTA_OK;
}

/* Leaves of what stands above and below the notes the levels of some bars. */
static muta_status keep_levels(muta_score *score, const muta_part *part, muta_node copy,
                               size_t from, size_t to)
{
    muta_tree *const tree = &score->tree;
    struct state state;
    struct state levels = {0};
    size_t bar = 0;

    find_state(score, part, from, &state);
    memcpy(levels.levels, state.levels, sizeof levels.levels);
    for (muta_node cell = muta_tree_first(tree, copy); cell; cell = muta_tree_next(tree, cell)) {
        muta_node next;
        if (muta_tree_name(tree, cell) != N_MEASURE)
            continue;
        for (muta_node child = muta_tree_first(tree, cell); child; child = next) {
            const muta_name name = muta_tree_name(tree, child);
            next = muta_tree_next(tree, child);
            if (name == N_SOUND || name == N_HARMONY || name == N_FIGURED_BASS ||
                (name == N_DIRECTION &&
                 (bar < from || bar >= to || staff_of_level(tree, child) == 0)))
                muta_tree_remove(tree, cell, child);
            else if (name == N_DIRECTION)
                take_out_end(tree, cell, child);
        }
        if (bar == from)
            MUTA_TRY(say_things(tree, cell, &levels));
        bar++;
    }
    return MUTA_OK;
}

muta_status muta_score_copy_part(muta_score *score, size_t index, size_t from, size_t to,
                                 size_t *made)
{
    muta_tree *const tree = &score->tree;
    const muta_part *const part = &score->parts[index];
    const muta_node list = muta_tree_child(tree, tree->root, N_PART_LIST);
    const muta_node holder = muta_patch_part(score, part);
    char suffix[24] = "-beside";
    char id[256];
    muta_node copy;

    if (!holder || !*part->id)
        return MUTA_E_DATA;
    (void)snprintf(id, sizeof id, "%.200s%s", part->id, suffix);
    for (int nth = 2; list && has_id(tree, list, id); nth++) {
        (void)snprintf(suffix, sizeof suffix, "-beside-%d", nth);
        (void)snprintf(id, sizeof id, "%.200s%s", part->id, suffix);
    }
    MUTA_TRY(copy_score_part(score, part, id, suffix));
    MUTA_TRY(muta_note_form_copy(tree, holder, &copy));
    MUTA_TRY(rename_instruments(tree, copy, suffix));
    MUTA_TRY(muta_tree_set_attribute(tree, copy, N_ID, id));
    MUTA_TRY(keep_levels(score, part, copy, from, to));
    muta_tree_insert(tree, tree->root, holder, copy);
    *made = index + 1;
    return muta_build_again(score);
}
