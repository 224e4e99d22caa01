/* marks.c: marks of notes: those that are read, and the signs of ornaments that are put on. */
#include "musicxml/marks.h"
#include "musicxml/note_form.h"
#include "musicxml/patch.h"
#include <string.h>

static bool is_below(const muta_tree *tree, muta_node mark)
{
    const char *const placement = muta_tree_attribute(tree, mark, N_PLACEMENT);

    return placement && strcmp(placement, "below") == 0;
}

static void look_at_ornaments(const muta_tree *tree, muta_node ornaments, muta_marks *marks)
{
    for (muta_node mark = muta_tree_first(tree, ornaments); mark;
         mark = muta_tree_next(tree, mark)) {
        const muta_name name = muta_tree_name(tree, mark);
        if (name == N_ACCIDENTAL_MARK && marks->ornament)
            *(is_below(tree, mark) ? &marks->below : &marks->above) =
                (uint8_t)muta_build_sign(tree, mark);
        else if (!marks->ornament)
            marks->ornament = (uint8_t)muta_ornament_of_sign(muta_tree_name_at(tree, name));
    }
}

void muta_build_marks(const muta_tree *tree, muta_node notations, muta_marks *marks)
{
    for (muta_node group = muta_tree_first(tree, notations); group;
         group = muta_tree_next(tree, group)) {
        const muta_name name = muta_tree_name(tree, group);
        if (name == N_ORNAMENTS)
            look_at_ornaments(tree, group, marks);
        if (name == N_FERMATA)
            marks->flags |= MUTA_NOTE_FERMATA;
        if (name != N_ARTICULATIONS)
            continue;
        marks->flags |=
            muta_tree_child(tree, group, N_BREATH_MARK) || muta_tree_child(tree, group, N_CAESURA)
                ? MUTA_NOTE_BREATH
                : 0U;
        marks->flags |= muta_tree_child(tree, group, N_STACCATO) ? MUTA_NOTE_STACCATO : 0U;
        marks->flags |=
            muta_tree_child(tree, group, N_ACCENT) || muta_tree_child(tree, group, N_STRONG_ACCENT)
                ? MUTA_NOTE_ACCENTED
                : 0U;
    }
}

static muta_node last_child(const muta_tree *tree, muta_node parent)
{
    muta_node last = 0;

    for (muta_node child = muta_tree_first(tree, parent); child;
         child = muta_tree_next(tree, child))
        last = child;
    return last;
}

muta_status muta_mark_put(muta_tree *tree, muta_node note, muta_name group, muta_name name,
                          muta_node *mark)
{
    muta_node notations;
    muta_node holder;

    *mark = 0;
    MUTA_TRY(muta_note_form_notations(tree, note, &notations));
    holder = muta_tree_child(tree, notations, group);
    if (!holder)
        MUTA_TRY(
            muta_patch_insert(tree, notations, last_child(tree, notations), group, NULL, &holder));
    return muta_tree_child(tree, holder, name)
               ? MUTA_OK
               : muta_patch_insert(tree, holder, last_child(tree, holder), name, NULL, mark);
}

/* The sign for a neighbour that is not the signature's. */
static muta_status put_sign(muta_tree *tree, const muta_note *note, int32_t fifths, int32_t steps,
                            int8_t away)
{
    const muta_node notations = muta_tree_child(tree, note->node, N_NOTATIONS);
    const muta_node holder = notations ? muta_tree_child(tree, notations, N_ORNAMENTS) : 0;
    const muta_pitch neighbour = {note->pitch.place + steps, 0};
    const int32_t alter =
        (muta_key_sharps(fifths, muta_pitch_step(neighbour)) + away) * MUTA_SEMITONE;
    const char *const name = muta_sign_name(muta_sign_of(alter));
    muta_node mark;

    if (!holder || !away || !name)
        return MUTA_OK;
    MUTA_TRY(
        muta_patch_insert(tree, holder, last_child(tree, holder), N_ACCIDENTAL_MARK, name, &mark));
    return muta_tree_set_attribute(tree, mark, N_PLACEMENT, steps > 0 ? "above" : "below");
}

/* Turned upside down, what went up goes down. */
static const char *sign_of(muta_ornament ornament, bool is_inverted)
{
    const muta_ornament turned = muta_ornament_row_of(ornament)->turned;

    return muta_ornament_row_of(is_inverted && turned ? turned : ornament)->sign;
}

/* The note that an event has become; NULL when it is not to be found. */
static const muta_note *note_of(const muta_score *score, const muta_plan *plan,
                                const muta_passage *passage, const muta_line *line,
                                const muta_event *event)
{
    const muta_part *const part = &score->parts[line->part];
    muta_fraction onset;
    uint32_t bar;

    muta_plan_place(plan, passage, line->part, event->onset, false, &bar, &onset);
    if (bar >= part->bar_count)
        return NULL;
    for (uint32_t i = part->bars[bar].first; i < part->bars[bar].first + part->bars[bar].count;
         i++) {
        const muta_note *const note = &part->notes.at[i];
        if (note->voice == line->voice &&
            !(note->flags & (MUTA_NOTE_GRACE | MUTA_NOTE_REST | MUTA_NOTE_CHORD)) &&
            muta_fraction_compare(note->onset, onset) == 0)
            return note;
    }
    return NULL;
}

static muta_status put(muta_score *score, const muta_note *note, const muta_part *part,
                       const muta_event *event, size_t *count)
{
    const muta_moment at = {note->bar, note->staff, note->onset};
    const muta_key_change *const key = muta_part_key_at(part, at);
    const int32_t fifths = key ? key->key.fifths : 0;
    const char *const sign =
        sign_of((muta_ornament)event->written.ornament, event->written.is_inverted);
    muta_name name;
    muta_node mark;

    if (!sign)
        return MUTA_OK;
    MUTA_TRY(muta_tree_intern_name(&score->tree, sign, strlen(sign), &name));
    MUTA_TRY(muta_mark_put(&score->tree, note->node, N_ORNAMENTS, name, &mark));
    if (!mark)
        return MUTA_OK;
    ++*count;
    MUTA_TRY(put_sign(&score->tree, note, fifths, 1, event->written.above));
    return put_sign(&score->tree, note, fifths, -1, event->written.below);
}

muta_status muta_ornaments_put(muta_score *score, const muta_plan *plan,
                               const muta_passage *passage, size_t *count)
{
    const muta_weave *const work = &passage->work;

    for (size_t i = 0; i < work->lines.count; i++)
        for (uint32_t j = 0; j < work->lines.at[i].event_count; j++) {
            const muta_event *const event = &work->events.at[work->lines.at[i].event + j];
            if (!event->written.ornament || event->is_grace)
                continue;
            const muta_note *const note = note_of(score, plan, passage, &work->lines.at[i], event);
            if (note)
                MUTA_TRY(put(score, note, &score->parts[work->lines.at[i].part], event, count));
        }
    return MUTA_OK;
}
