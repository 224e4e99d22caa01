/*
 * spans.c: spans that join two tones. Those whose tones moved are taken off and hung again to where
 * the tones are now, whichever of them comes first; an end whose partner stayed outside goes to
 * what sounds now at the moment where it stood.
 */
#include "musicxml/note_form.h"
#include "musicxml/patch.h"
#include "musicxml/rewrite.h"
#include <stdlib.h>
#include <string.h>

enum {
    OPEN = 64
};

static const muta_part *part_of(const muta_rewriting *rewriting)
{
    return &rewriting->score->parts[rewriting->part];
}

static bool is_kind(muta_name name)
{
    return name == N_SLUR || name == N_GLISSANDO || name == N_SLIDE || name == N_TREMOLO ||
           name == N_WAVY_LINE;
}

/* The ends that are open while the part is read, oldest first. */
struct open {
    bool is_told; /* that there are too many */
    size_t count;
    struct {
        size_t span;
        muta_name name;
        const char *number;
    } at[OPEN];
};

static bool is_numbered(const char *a, const char *b)
{
    return strcmp(a ? a : "1", b ? b : "1") == 0;
}

static muta_status start_span(muta_rewriting *rewriting, struct open *open, uint32_t note,
                              muta_node holder, muta_node node)
{
    const muta_tree *const tree = &rewriting->score->tree;
    muta_tone_span *const span = MUTA_PUSH(&rewriting->arena, &rewriting->spans);

    if (!span)
        return MUTA_E_MEMORY;
    *span =
        (muta_tone_span){.from = note, .to = MUTA_NO_NOTE, .start = node, .start_holder = holder};
    if (open->count == OPEN) { /* that many are mistakes of the file */
        if (!open->is_told)
            muta_diag_add(rewriting->diags, MUTA_WARNING,
                          (muta_place){.part = part_of(rewriting)->name, .beat = {0, 0}},
                          "more than %d slurs and lines are open at one time; the oldest are taken "
                          "to have no end",
                          OPEN);
        open->is_told = true;
        memmove(&open->at[0], &open->at[1], --open->count * sizeof open->at[0]);
    }
    open->at[open->count].span = rewriting->spans.count - 1;
    open->at[open->count].name = muta_tree_name(tree, node);
    open->at[open->count++].number = muta_tree_attribute(tree, node, N_NUMBER);
    return MUTA_OK;
}

/*
 * The open span that ends here: both hands may use one number at once, so that one of the same
 * voice comes first. The count when there is none.
 */
static size_t find_open(const muta_rewriting *rewriting, const struct open *open, uint32_t note,
                        muta_name name, const char *number)
{
    const muta_note *const notes = part_of(rewriting)->notes.at;
    size_t found = open->count;

    for (size_t i = 0; i < open->count; i++) {
        if (open->at[i].name != name || !is_numbered(open->at[i].number, number))
            continue;
        if (notes[rewriting->spans.at[open->at[i].span].from].voice == notes[note].voice)
            return i;
        if (found == open->count)
            found = i;
    }
    return found;
}

static muta_status stop_span(muta_rewriting *rewriting, struct open *open, uint32_t note,
                             muta_node holder, muta_node node)
{
    const muta_tree *const tree = &rewriting->score->tree;
    const muta_name name = muta_tree_name(tree, node);
    const char *const number = muta_tree_attribute(tree, node, N_NUMBER);
    muta_tone_span *span;

    const size_t at = find_open(rewriting, open, note, name, number);

    if (at < open->count) {
        span = &rewriting->spans.at[open->at[at].span];
        span->to = note;
        span->stop = node;
        span->stop_holder = holder;
        if (name == N_TREMOLO) {
            rewriting->tremolo_with[span->from] = note;
            rewriting->tremolo_with[note] = span->from;
        }
        memmove(&open->at[at], &open->at[at + 1], (--open->count - at) * sizeof open->at[0]);
        return MUTA_OK;
    }
    span = MUTA_PUSH(&rewriting->arena, &rewriting->spans);
    if (!span)
        return MUTA_E_MEMORY;
    *span = (muta_tone_span){.from = MUTA_NO_NOTE, .to = note, .stop = node, .stop_holder = holder};
    return MUTA_OK;
}

/* Looks for ends in `notations`, and in the `ornaments` that it holds. */
static muta_status read_ends(muta_rewriting *rewriting, struct open *open, uint32_t note,
                             muta_node holder)
{
    const muta_tree *const tree = &rewriting->score->tree;

    for (muta_node child = muta_tree_first(tree, holder); child;
         child = muta_tree_next(tree, child)) {
        const muta_name name = muta_tree_name(tree, child);
        const char *const type = muta_tree_attribute(tree, child, N_TYPE);
        if (name == N_ORNAMENTS)
            MUTA_TRY(read_ends(rewriting, open, note, child));
        if (!is_kind(name) || !type)
            continue;
        const bool starts = strcmp(type, "start") == 0;
        if (!starts && strcmp(type, "stop") != 0)
            continue;
        MUTA_TRY((starts ? start_span : stop_span)(rewriting, open, note, holder, child));
    }
    return MUTA_OK;
}

/* Notes in order of time: a stop may stand before its start in the file. */
struct moment {
    uint32_t note;
    muta_fraction at;
};

static int by_time(const void *a, const void *b)
{
    const struct moment *const one = a;
    const struct moment *const two = b;
    const int order = muta_fraction_compare(one->at, two->at);

    return order ? order : one->note < two->note ? -1 : one->note > two->note;
}

static bool has_notations(const muta_tree *tree, muta_node note)
{
    return muta_tree_child(tree, note, N_NOTATIONS) != 0;
}

static muta_status read_bar(muta_rewriting *rewriting, struct open *open, const muta_part_bar *bar,
                            struct moment *moments)
{
    const muta_tree *const tree = &rewriting->score->tree;
    const muta_part *const part = part_of(rewriting);
    size_t count = 0;

    for (uint32_t i = bar->first; i < bar->first + bar->count; i++)
        if (has_notations(tree, part->notes.at[i].node))
            moments[count++] = (struct moment){i, part->notes.at[i].onset};
    muta_sort(moments, count, sizeof *moments, by_time);
    for (size_t i = 0; i < count; i++)
        for (muta_node child = muta_tree_first(tree, part->notes.at[moments[i].note].node); child;
             child = muta_tree_next(tree, child))
            if (muta_tree_name(tree, child) == N_NOTATIONS)
                MUTA_TRY(read_ends(rewriting, open, moments[i].note, child));
    return MUTA_OK;
}

muta_status muta_spans_find(muta_rewriting *rewriting)
{
    const muta_part *const part = part_of(rewriting);
    struct open open = {.count = 0};
    muta_status status = MUTA_OK;

    rewriting->tremolo_with =
        muta_arena_take_array(&rewriting->arena, part->notes.count + 1, sizeof(uint32_t));
    struct moment *const moments = malloc((part->notes.count + 1) * sizeof *moments);
    if (!rewriting->tremolo_with || !moments) {
        free(moments);
        return MUTA_E_MEMORY;
    }
    for (size_t i = 0; i <= part->notes.count; i++)
        rewriting->tremolo_with[i] = MUTA_NO_NOTE;
    for (size_t bar = 0; status == MUTA_OK && bar < part->bar_count; bar++)
        status = read_bar(rewriting, &open, &part->bars[bar], moments);
    free(moments);
    return status;
}

/* ---- hanging ---- */

static bool is_moved(const muta_rewriting *rewriting, uint32_t note)
{
    const uint8_t *const fates = rewriting->plan->parts[rewriting->part].fates;

    return note != MUTA_NO_NOTE && fates && fates[note] >= MUTA_MOVED;
}

/* The note whose event holds a note that moved: through its ties, and its chord. */
static uint32_t head_of(const muta_rewriting *rewriting, uint32_t note)
{
    const muta_part *const part = part_of(rewriting);

    while (part->notes.at[note].tied_from != MUTA_NO_NOTE &&
           is_moved(rewriting, part->notes.at[note].tied_from))
        note = part->notes.at[note].tied_from;
    while (note > 0 && (part->notes.at[note].flags & MUTA_NOTE_CHORD))
        note--;
    return note;
}

static int by_note(const void *a, const void *b)
{
    const muta_placement *const one = a;
    const muta_placement *const two = b;

    if (one->note != two->note)
        return one->note < two->note ? -1 : 1;
    if (one->statement != two->statement)
        return one->statement < two->statement ? -1 : 1;
    return one->order < two->order ? -1 : one->order > two->order;
}

/* The first placement of a note; the array's end when it has none. */
static const muta_placement *placement_of(const muta_rewriting *rewriting, uint32_t note)
{
    size_t low = 0;
    size_t high = rewriting->placements.count;

    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (rewriting->placements.at[middle].note < note)
            low = middle + 1;
        else
            high = middle;
    }
    return &rewriting->placements.at[low];
}

static const muta_placement *end_of(const muta_rewriting *rewriting)
{
    return rewriting->placements.at + rewriting->placements.count;
}

static void drop_places(muta_tree *tree, muta_node node)
{
    static const muta_name names[] = {N_DEFAULT_X, N_DEFAULT_Y, N_RELATIVE_X,   N_RELATIVE_Y,
                                      N_BEZIER_Y,  N_BEZIER_X,  N_BEZIER_OFFSET};

    for (size_t i = 0; i < MUTA_LENGTH(names); i++)
        muta_tree_drop_attribute(tree, node, names[i]);
}

/* Hangs a copy of an end to a note. */
static muta_status hang_copy(muta_rewriting *rewriting, muta_node end, muta_node note,
                             muta_node *made)
{
    muta_tree *const tree = &rewriting->score->tree;
    const muta_name name = muta_tree_name(tree, end);
    muta_node holder;
    muta_node copy;
    muta_node last = 0;

    MUTA_TRY(muta_note_form_notations(tree, note, &holder));
    if (name == N_TREMOLO || name == N_WAVY_LINE) {
        const muta_node notations = holder;
        holder = muta_tree_child(tree, notations, N_ORNAMENTS);
        if (!holder)
            MUTA_TRY(muta_patch_insert(tree, notations, 0, N_ORNAMENTS, NULL, &holder));
    }
    MUTA_TRY(muta_note_form_copy(tree, end, &copy));
    drop_places(tree, copy);
    for (muta_node child = muta_tree_first(tree, holder); child;
         child = muta_tree_next(tree, child))
        last = child;
    const char *const type = muta_tree_attribute(tree, end, N_TYPE);
    /* What ends comes before what begins on the same note. */
    if ((type && strcmp(type, "stop") == 0) ||
        muta_tree_name(tree, muta_tree_first(tree, holder)) == N_ACCIDENTAL_MARK)
        last = 0;
    if (!muta_tree_first(tree, holder))
        muta_tree_at(tree, holder)->tail = muta_tree_at(tree, holder)->before;
    else
        muta_tree_at(tree, copy)->before =
            muta_tree_at(tree, muta_tree_first(tree, holder))->before;
    muta_tree_insert(tree, holder, last, copy);
    *made = copy;
    return MUTA_OK;
}

static muta_status hang(muta_rewriting *rewriting, muta_node end, muta_node note)
{
    muta_node ignored;

    return hang_copy(rewriting, end, note, &ignored);
}

static muta_status note_hung(muta_rewriting *rewriting, muta_node start, muta_node stop,
                             bool is_new)
{
    muta_hung *hung;

    if (muta_tree_name(&rewriting->score->tree, start) != N_SLUR)
        return MUTA_OK;
    hung = MUTA_PUSH(&rewriting->arena, &rewriting->hung);
    if (!hung)
        return MUTA_E_MEMORY;
    *hung = (muta_hung){start, stop, is_new};
    return MUTA_OK;
}

static void warn(const muta_rewriting *rewriting, uint32_t note)
{
    const muta_part *const part = part_of(rewriting);
    const muta_note *const of = &part->notes.at[note];

    muta_diag_add(
        rewriting->diags, MUTA_WARNING,
        muta_score_place(rewriting->score, part, (muta_moment){of->bar, of->staff, of->onset}),
        "a slur or line lost its other end and was taken off");
}

static muta_status hang_both(muta_rewriting *rewriting, const muta_tone_span *span,
                             const muta_placement *a, const muta_placement *b)
{
    const bool forward = muta_fraction_compare(a->at, b->at) <= 0;
    muta_node start;
    muta_node stop;

    /* A tremolo of two notes is one figure: across a bar line there is none. */
    if (muta_tree_name(&rewriting->score->tree, span->start) == N_TREMOLO && a->bar != b->bar) {
        warn(rewriting, span->from);
        return MUTA_OK;
    }
    MUTA_TRY(hang_copy(rewriting, span->start, forward ? a->first : b->first, &start));
    MUTA_TRY(hang_copy(rewriting, span->stop, forward ? b->last : a->last, &stop));
    return note_hung(rewriting, start, stop, true);
}

/*
 * Where a span ends in a statement that does not hold its own end: with the tone of that statement
 * that comes last inside it, or first; NULL when only one is left.
 */
static const muta_placement *cut_end(const muta_rewriting *rewriting, const muta_placement *other,
                                     uint32_t from, uint32_t to, bool is_stop)
{
    const muta_placement *best = NULL;

    for (const muta_placement *of = placement_of(rewriting, from);
         of < end_of(rewriting) && of->note <= to; of++)
        if (of->statement == other->statement && of->voice == other->voice &&
            (of != other || of->is_divided) && (!best || is_stop))
            best = of;
    return best;
}

/* Of the placements of a note in the statement of another, the nearest behind that, or before it;
 * NULL when there is none. */
static const muta_placement *nearest(const muta_rewriting *rewriting, uint32_t note,
                                     const muta_placement *than, bool is_behind)
{
    const muta_placement *best = NULL;

    for (const muta_placement *of = placement_of(rewriting, note);
         of < end_of(rewriting) && of->note == note; of++)
        if (of->statement == than->statement &&
            (muta_fraction_compare(of->at, than->at) > 0) == is_behind && of != than &&
            (!best || (muta_fraction_compare(of->at, best->at) < 0) == is_behind))
            best = of;
    return best;
}

/* Where a span that begins with a placement ends: behind it, or before it where time is turned. */
static const muta_placement *partner(const muta_rewriting *rewriting, uint32_t note,
                                     const muta_placement *of)
{
    const muta_placement *const behind = nearest(rewriting, note, of, true);

    return behind ? behind : nearest(rewriting, note, of, false);
}

/* Whether the same note was struck before in this statement, and its span goes on: what is said
 * again in one statement, as figures are, has one span until its other end comes. */
static bool is_under_way(const muta_rewriting *rewriting, const muta_placement *of, uint32_t to)
{
    const muta_placement *const before = nearest(rewriting, of->note, of, false);
    const muta_placement *const stop = before ? nearest(rewriting, to, before, true) : NULL;

    return before && !(stop && muta_fraction_compare(stop->at, of->at) <= 0);
}

/*
 * Both tones moved: each statement that has both has the span, else what is left of it.
 * @param done  the placement that an end outside was joined to already, or NULL
 */
static muta_status hang_inside(muta_rewriting *rewriting, const muta_tone_span *span,
                               const muta_placement *done)
{
    const uint32_t from = head_of(rewriting, span->from);
    const uint32_t to = head_of(rewriting, span->to);
    const bool is_slur = muta_tree_name(&rewriting->score->tree, span->start) == N_SLUR;

    for (const muta_placement *a = placement_of(rewriting, from);
         a < end_of(rewriting) && a->note == from; a++) {
        const muta_placement *b = partner(rewriting, to, a);
        if (a == done || is_under_way(rewriting, a, to))
            continue;
        if (!b)
            b = is_slur ? cut_end(rewriting, a, from, to, true) : NULL;
        if (b && (a->first != b->first || a->is_divided))
            MUTA_TRY(hang_both(rewriting, span, a, b));
    }
    for (const muta_placement *b = placement_of(rewriting, to);
         b < end_of(rewriting) && b->note == to && is_slur; b++) {
        const muta_placement *a = placement_of(rewriting, from);
        while (a < end_of(rewriting) && a->note == from && a->statement != b->statement)
            a++;
        if (b == done || (a < end_of(rewriting) && a->note == from))
            continue;
        a = cut_end(rewriting, b, from, to, false);
        if (a)
            MUTA_TRY(hang_both(rewriting, span, a, b));
    }
    return MUTA_OK;
}

static muta_fraction time_now(const muta_rewriting *rewriting, const muta_note *note)
{
    const uint32_t bar = rewriting->plan->bar_of[note->bar];

    return bar == MUTA_NO_BAR
               ? (muta_fraction){0, 0}
               : muta_fraction_add(muta_plan_bar_start(rewriting->plan, rewriting->part, bar),
                                   note->onset);
}

/* What sounds in a voice at a moment, or began last before it, and did so behind `after`. */
static const muta_placement *sounding_at(const muta_rewriting *rewriting, uint32_t voice,
                                         muta_fraction at)
{
    const muta_placement *best = NULL;

    for (size_t i = 0; i < rewriting->placements.count; i++) {
        const muta_placement *const of = &rewriting->placements.at[i];
        if (of->voice == voice && muta_fraction_compare(of->at, at) <= 0 &&
            (!best || muta_fraction_compare(of->at, best->at) > 0))
            best = of;
    }
    return best;
}

static void take_off(muta_rewriting *rewriting, muta_node note, muta_node holder, muta_node end)
{
    muta_tree *const tree = &rewriting->score->tree;

    if (!end)
        return;
    muta_tree_remove(tree, holder, end);
    if (!muta_tree_first(tree, holder)) {
        muta_node parent = muta_tree_child(tree, note, N_NOTATIONS);
        if (parent && parent != holder)
            muta_tree_remove(tree, parent, holder);
        if (parent && !muta_tree_first(tree, parent))
            muta_tree_remove(tree, note, parent);
    }
}

size_t muta_section_of(const muta_sections *sections, size_t bar)
{
    return bar < sections->first ? 0 : 1 + (bar - sections->first) / sections->bars;
}

muta_status muta_spans_prune(muta_rewriting *rewriting, const muta_sections *sections)
{
    const muta_part *const part = part_of(rewriting);

    for (size_t i = 0; i < rewriting->spans.count; i++) {
        const muta_tone_span *const span = &rewriting->spans.at[i];
        const size_t from = span->from == MUTA_NO_NOTE
                                ? 0
                                : muta_section_of(sections, part->notes.at[span->from].bar);
        const size_t to =
            span->to == MUTA_NO_NOTE ? 0 : muta_section_of(sections, part->notes.at[span->to].bar);
        if (from > 0 && from != to)
            take_off(rewriting, part->notes.at[span->from].node, span->start_holder, span->start);
        if (to > 0 && from != to)
            take_off(rewriting, part->notes.at[span->to].node, span->stop_holder, span->stop);
    }
    return MUTA_OK;
}

/* The note that stays in its passage and is last, or first, inside a span; MUTA_NO_NOTE: none. */
static uint32_t last_kept(const muta_rewriting *rewriting, const muta_tone_span *span, bool starts)
{
    const muta_part *const part = part_of(rewriting);
    const uint8_t *const fates = rewriting->plan->parts[rewriting->part].fates;
    const uint32_t outer = starts ? span->to : span->from;
    uint32_t found = MUTA_NO_NOTE;

    for (uint32_t i = span->from + 1; i < span->to; i++) {
        const muta_note *const note = &part->notes.at[i];
        if (fates[i] != MUTA_KEPT || note->voice != part->notes.at[outer].voice ||
            (note->flags & (MUTA_NOTE_REST | MUTA_NOTE_CHORD)))
            continue;
        if (starts)
            return i;
        found = i;
    }
    return found;
}

/* Where the end whose tone moved goes, when the other's stayed; NULL: nowhere. */
static const muta_placement *new_end(const muta_rewriting *rewriting, uint32_t inner,
                                     uint32_t outer)
{
    const muta_part *const part = part_of(rewriting);
    const uint8_t *const fates = rewriting->plan->parts[rewriting->part].fates;
    const uint32_t head = head_of(rewriting, inner);
    const muta_placement *placed;

    if (outer == MUTA_NO_NOTE)
        return NULL;
    placed = placement_of(rewriting, head);
    /* Inside the passage the end follows its tone; from outside it stays at its moment. */
    if (fates[outer] == MUTA_KEPT)
        return placed < end_of(rewriting) && placed->note == head ? placed : NULL;
    return sounding_at(rewriting, part->notes.at[inner].voice,
                       time_now(rewriting, &part->notes.at[inner]));
}

/*
 * One tone stayed: the other end goes to what sounds where it stood; else the span goes.
 * @param done  [out] where the end went
 */
static muta_status hang_half(muta_rewriting *rewriting, const muta_tone_span *span,
                             const muta_placement **done)
{
    const muta_part *const part = part_of(rewriting);
    const uint8_t *const fates = rewriting->plan->parts[rewriting->part].fates;
    const bool starts = is_moved(rewriting, span->from);
    const uint32_t inner = starts ? span->from : span->to;
    const uint32_t outer = starts ? span->to : span->from;
    const muta_placement *const placed = new_end(rewriting, inner, outer);
    muta_node made;

    if (placed) {
        const int order =
            muta_fraction_compare(placed->at, time_now(rewriting, &part->notes.at[outer]));
        /* What stands in a bar that stays as it was keeps its number. */
        const bool is_free = part->bars[part->notes.at[outer].bar].is_touched;
        *done = placed;
        if (starts && order < 0) {
            MUTA_TRY(hang_copy(rewriting, span->start, placed->first, &made));
            return note_hung(rewriting, made, span->stop, is_free);
        }
        if (!starts && order > 0) {
            MUTA_TRY(hang_copy(rewriting, span->stop, placed->last, &made));
            return note_hung(rewriting, span->start, made, is_free);
        }
    }
    if (outer != MUTA_NO_NOTE && span->from != MUTA_NO_NOTE && span->to != MUTA_NO_NOTE &&
        fates[outer] == MUTA_KEPT && !placed &&
        muta_tree_name(&rewriting->score->tree, span->start) == N_SLUR) {
        const uint32_t kept = last_kept(rewriting, span, starts);
        if (kept != MUTA_NO_NOTE)
            return hang(rewriting, starts ? span->start : span->stop, part->notes.at[kept].node);
    }
    if (outer != MUTA_NO_NOTE)
        take_off(rewriting, part->notes.at[outer].node,
                 starts ? span->stop_holder : span->start_holder,
                 starts ? span->stop : span->start);
    warn(rewriting, inner);
    return MUTA_OK;
}

static int by_bar(const void *a, const void *b)
{
    const muta_voice_bar *const one = a;
    const muta_voice_bar *const two = b;

    if (one->bar != two->bar)
        return one->bar < two->bar ? -1 : 1;
    return one->voice < two->voice ? -1 : one->voice > two->voice;
}

/* A rest that bore an end and was not written again. */
static bool is_lost(const muta_rewriting *rewriting, uint32_t index)
{
    const muta_note *const note =
        index == MUTA_NO_NOTE ? NULL : &part_of(rewriting)->notes.at[index];

    if (!note || !(note->flags & MUTA_NOTE_REST) || rewriting->used[index])
        return false;
    const muta_voice_bar wanted = {.bar = rewriting->plan->bar_of[note->bar], .voice = note->voice};
    return wanted.bar == MUTA_NO_BAR ||
           (rewriting->bars.bars.count > 0 &&
            bsearch(&wanted, rewriting->bars.bars.at, rewriting->bars.bars.count, sizeof wanted,
                    by_bar) != NULL);
}

/* Takes off what is left of a span that lost an end. */
static void drop(muta_rewriting *rewriting, const muta_tone_span *span)
{
    const muta_part *const part = part_of(rewriting);

    if (span->from != MUTA_NO_NOTE && !is_moved(rewriting, span->from))
        take_off(rewriting, part->notes.at[span->from].node, span->start_holder, span->start);
    if (span->to != MUTA_NO_NOTE && !is_moved(rewriting, span->to))
        take_off(rewriting, part->notes.at[span->to].node, span->stop_holder, span->stop);
    warn(rewriting, span->from != MUTA_NO_NOTE ? span->from : span->to);
}

/* Across bars that were put in no span goes: it ends with the last note before them. */
static muta_status end_before(muta_rewriting *rewriting, const muta_tone_span *span)
{
    const muta_part *const part = part_of(rewriting);
    const uint8_t *const fates = rewriting->plan->parts[rewriting->part].fates;
    uint32_t last = span->from;

    for (uint32_t i = span->from + 1; i < part->notes.count && i < span->to; i++) {
        const muta_note *const note = &part->notes.at[i];
        if (note->voice == part->notes.at[span->from].voice &&
            !(note->flags & (MUTA_NOTE_REST | MUTA_NOTE_CHORD)) &&
            !(fates && fates[i] >= MUTA_MOVED) &&
            !muta_plan_parts(rewriting->plan, rewriting->part, span->from, i))
            last = i;
    }
    take_off(rewriting, part->notes.at[span->to].node, span->stop_holder, span->stop);
    warn(rewriting, span->from);
    if (last != span->from)
        return hang(rewriting, span->stop, part->notes.at[last].node);
    take_off(rewriting, part->notes.at[span->from].node, span->start_holder, span->start);
    return MUTA_OK;
}

muta_status muta_spans_hang(muta_rewriting *rewriting)
{
    muta_sort(rewriting->placements.at, rewriting->placements.count,
              sizeof *rewriting->placements.at, by_note);
    for (size_t i = 0; i < rewriting->spans.count; i++) {
        const muta_tone_span *const span = &rewriting->spans.at[i];
        const bool from = is_moved(rewriting, span->from);
        const bool to = is_moved(rewriting, span->to);
        const muta_placement *done = NULL;
        if (is_lost(rewriting, span->from) || is_lost(rewriting, span->to)) {
            drop(rewriting, span);
            continue;
        }
        if (span->from != MUTA_NO_NOTE && span->to != MUTA_NO_NOTE &&
            muta_plan_parts(rewriting->plan, rewriting->part, span->from, span->to)) {
            MUTA_TRY(end_before(rewriting, span));
            continue;
        }
        if (from != to)
            MUTA_TRY(hang_half(rewriting, span, &done));
        else if (!from && span->from != MUTA_NO_NOTE && span->to != MUTA_NO_NOTE)
            MUTA_TRY(note_hung(rewriting, span->start, span->stop, false));
        /* Statements of notes that stayed are copies with both ends. */
        if (span->from != MUTA_NO_NOTE && span->to != MUTA_NO_NOTE)
            MUTA_TRY(hang_inside(rewriting, span, done));
    }
    return MUTA_OK;
}
