/* tempo.c: the tempo marks of a passage whose values became longer or shorter. */
#include "base/decimal.h"
#include "base/text.h"
#include "musicxml/note_form.h"
#include "musicxml/patch.h"
#include "musicxml/rewrite.h"
#include <string.h>

/* What sets the tempo at some place: 0 where it is not said so. */
struct tempo {
    muta_node metronome; /* with a figure */
    muta_node sound;
};

enum {
    HUNDREDTHS = 100, /* a figure is written with two decimals at most */
    FASTEST = 10000   /* no figure is larger */
};

/* The figure of a mark, as "84" or "66.5"; false for words and ranges, which stay. */
static bool read_figure(muta_text said, muta_fraction *figure)
{
    return muta_text_number(muta_text_trim(said), figure) && figure->top > 0 &&
           muta_fraction_compare(*figure, muta_fraction_of(FASTEST, 1)) < 0;
}

/* The figure times `by`, in hundredths at the finest. @param text  for 32 characters */
static bool scale_figure(muta_text was, muta_fraction by, char *text)
{
    muta_fraction figure;

    if (!read_figure(was, &figure))
        return false;
    figure = muta_fraction_multiply(figure, muta_fraction_scale(by, HUNDREDTHS));
    if (!muta_fraction_is_valid(figure))
        return false;
    const int64_t left = figure.top % figure.bottom;
    const int64_t hundredths = figure.top / figure.bottom + (left >= figure.bottom - left);
    return muta_text_print_number(muta_fraction_of(hundredths, HUNDREDTHS), text);
}

static muta_node figure_of(const muta_tree *tree, muta_node metronome)
{
    muta_fraction figure;
    const muta_node leaf = muta_tree_child(tree, metronome, N_PER_MINUTE);

    return leaf && read_figure(muta_tree_leaf(tree, leaf), &figure) ? leaf : 0;
}

/* Adds what one child of a bar says of the tempo. */
static void look_at(const muta_tree *tree, muta_node node, struct tempo *tempo)
{
    const muta_name name = muta_tree_name(tree, node);
    struct tempo said = {0, 0};

    if (name == N_SOUND && muta_tree_attribute(tree, node, N_TEMPO))
        said.sound = node;
    for (muta_node child = name == N_DIRECTION ? muta_tree_first(tree, node) : 0; child;
         child = muta_tree_next(tree, child)) {
        const muta_node mark = muta_tree_name(tree, child) == N_DIRECTION_TYPE
                                   ? muta_tree_child(tree, child, N_METRONOME)
                                   : 0;
        if (mark && figure_of(tree, mark))
            said.metronome = mark;
        if (muta_tree_name(tree, child) == N_SOUND && muta_tree_attribute(tree, child, N_TEMPO))
            said.sound = child;
    }
    if (said.metronome || said.sound)
        *tempo = said;
}

/* What a bar says of the tempo before its first note, or anywhere. */
static struct tempo tempo_in(const muta_tree *tree, muta_node cell, bool at_start)
{
    struct tempo tempo = {0, 0};

    for (muta_node child = cell ? muta_tree_first(tree, cell) : 0; child;
         child = muta_tree_next(tree, child)) {
        if (at_start && muta_tree_name(tree, child) == N_NOTE)
            break;
        look_at(tree, child, &tempo);
    }
    return tempo;
}

static bool is_said(struct tempo tempo)
{
    return tempo.metronome || tempo.sound;
}

/* The tempo in force before a bar, whichever part says it. */
static struct tempo tempo_before(const muta_score *score, uint32_t bar)
{
    for (; bar > 0; bar--)
        for (size_t i = 0; i < score->part_count; i++) {
            const muta_part *const part = &score->parts[i];
            const struct tempo tempo = tempo_in(
                &score->tree, bar <= part->bar_count ? part->bars[bar - 1].cell : 0, false);
            if (is_said(tempo))
                return tempo;
        }
    return (struct tempo){0, 0};
}

static bool says_at_start(const muta_score *score, uint32_t bar)
{
    for (size_t i = 0; i < score->part_count; i++)
        if (bar < score->parts[i].bar_count &&
            is_said(tempo_in(&score->tree, score->parts[i].bars[bar].cell, true)))
            return true;
    return false;
}

static muta_status scale_sound(muta_tree *tree, muta_node sound, muta_fraction by)
{
    const char *const was = sound ? muta_tree_attribute(tree, sound, N_TEMPO) : NULL;
    char text[32];

    return was && scale_figure((muta_text){was, strlen(was)}, by, text)
               ? muta_tree_set_attribute(tree, sound, N_TEMPO, text)
               : MUTA_OK;
}

static muta_status scale_metronome(muta_tree *tree, muta_node metronome, muta_fraction by)
{
    const muta_node leaf = metronome ? figure_of(tree, metronome) : 0;
    char text[32];

    return leaf && scale_figure(muta_tree_leaf(tree, leaf), by, text)
               ? muta_tree_set_text(tree, leaf, text)
               : MUTA_OK;
}

/* Every mark of a bar. */
static muta_status scale_bar(muta_tree *tree, muta_node cell, muta_fraction by)
{
    for (muta_node child = cell ? muta_tree_first(tree, cell) : 0; child;
         child = muta_tree_next(tree, child)) {
        struct tempo tempo = {0, 0};
        look_at(tree, child, &tempo);
        MUTA_TRY(scale_metronome(tree, tempo.metronome, by));
        MUTA_TRY(scale_sound(tree, tempo.sound, by));
    }
    return MUTA_OK;
}

/* The tempo as a mark of its own before the first note of a bar, its figures times `by`. */
static muta_status say_tempo(muta_score *score, uint32_t bar, struct tempo tempo, muta_fraction by)
{
    muta_tree *const tree = &score->tree;
    const muta_part *const part = &score->parts[0];
    const muta_node cell = bar < part->bar_count ? part->bars[bar].cell : 0;
    const char *const figure = tempo.sound ? muta_tree_attribute(tree, tempo.sound, N_TEMPO) : NULL;
    muta_node first = cell ? muta_tree_first(tree, cell) : 0;
    muta_node holder;
    muta_node last = 0;
    muta_node made;

    while (first && muta_tree_name(tree, first) != N_NOTE)
        first = muta_tree_next(tree, first);
    if (!first)
        return MUTA_OK;
    holder = cell;
    if (tempo.metronome) {
        MUTA_TRY(muta_patch_insert(tree, cell, muta_patch_before(tree, cell, first), N_DIRECTION,
                                   NULL, &holder));
        MUTA_TRY(muta_tree_set_attribute(tree, holder, N_PLACEMENT, "above"));
        MUTA_TRY(muta_patch_insert(tree, holder, 0, N_DIRECTION_TYPE, NULL, &last));
        MUTA_TRY(muta_note_form_copy(tree, tempo.metronome, &made));
        muta_tree_insert(tree, last, 0, made);
        MUTA_TRY(scale_metronome(tree, made, by));
    }
    if (!figure)
        return MUTA_OK;
    MUTA_TRY(muta_patch_insert(tree, holder,
                               holder == cell ? muta_patch_before(tree, cell, first) : last,
                               N_SOUND, NULL, &made));
    MUTA_TRY(muta_tree_set_attribute(tree, made, N_TEMPO, figure));
    return scale_sound(tree, made, by);
}

/* The marks in the passage; one at its start, and behind it the tempo that was, where none is. */
static muta_status scale_marks(muta_score *score, uint32_t from, uint32_t to, muta_fraction by)
{
    const muta_fraction once = muta_fraction_of(1, 1);
    const struct tempo before = tempo_before(score, from);
    const struct tempo last = tempo_before(score, to);

    if (to < score->bar_count && is_said(last) && !says_at_start(score, to))
        MUTA_TRY(say_tempo(score, to, last, once));
    const bool has_start = says_at_start(score, from);
    for (size_t i = 0; i < score->part_count; i++)
        for (uint32_t bar = from; bar < to && bar < score->parts[i].bar_count; bar++)
            MUTA_TRY(scale_bar(&score->tree, score->parts[i].bars[bar].cell, by));
    return is_said(before) && !has_start ? say_tempo(score, from, before, by) : MUTA_OK;
}

/* The bar of the plan that stands behind a passage. */
static uint32_t bar_behind(const muta_plan *plan, const muta_passage *passage)
{
    uint32_t bar = plan->bar_of[passage->from.bar];

    while (bar < plan->bars.count &&
           (plan->bars.at[bar].old == MUTA_NO_BAR || plan->bars.at[bar].old < passage->to.bar))
        bar++;
    return bar;
}

static bool is_changed(muta_fraction by)
{
    return muta_fraction_compare(by, muta_fraction_of(1, 1)) != 0;
}

muta_status muta_tempo_put(muta_score *score, const muta_plan *plan, const muta_passage *passage,
                           muta_diags *diags)
{
    const uint32_t from = plan->bar_of[passage->from.bar];
    const muta_moment start = {from, MUTA_ALL_STAVES, MUTA_ZERO};

    if (!passage->is_everything || from == MUTA_NO_BAR ||
        !(is_changed(passage->slower) || is_changed(passage->faster)))
        return MUTA_OK;
    const uint32_t to = bar_behind(plan, passage);
    if (!is_said(tempo_before(score, to)))
        return MUTA_OK;
    if (is_changed(passage->slower))
        muta_diag_add(diags, MUTA_WARNING, muta_score_place(score, NULL, start),
                      "the tempo mark keeps its figure, so that the music sounds %s; tempo=scale "
                      "scales it",
                      passage->slower.top > passage->slower.bottom ? "slower" : "faster");
    return is_changed(passage->faster) ? scale_marks(score, from, to, passage->faster) : MUTA_OK;
}
