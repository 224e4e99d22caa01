/* rest_marks.c: fermatas and other marks on rests go with time. */
#include "musicxml/note_form.h"
#include "musicxml/rewrite.h"

static const muta_part *part_of(const muta_rewriting *rewriting)
{
    return &rewriting->score->parts[rewriting->part];
}

static bool works_on(const muta_passage *passage, uint32_t part, uint32_t voice)
{
    const muta_weave *const first = passage->first;

    for (size_t i = 0; i < first->lines.count; i++)
        if (first->lines.at[i].part == part && first->lines.at[i].voice == voice)
            return true;
    return false;
}

/* Follows one rest through the statements of its passage. */
static muta_status follow(muta_rewriting *rewriting, const muta_passage *passage, uint32_t index)
{
    const muta_note *const note = &part_of(rewriting)->notes.at[index];
    const muta_fraction from = muta_fraction_subtract(
        muta_fraction_add(muta_part_bar_start(rewriting->score, part_of(rewriting), note->bar),
                          note->onset),
        muta_passage_start(passage, rewriting->part));

    for (size_t i = 0; i < passage->map.count; i++) {
        const muta_statement *const statement = &passage->map.at[i];
        if (muta_fraction_compare(from, statement->from) < 0 ||
            muta_fraction_compare(statement->to, from) <= 0)
            continue;
        const muta_fraction edge =
            statement->is_mirrored ? muta_fraction_add(from, note->duration) : from;
        muta_rest_mark *const mark = MUTA_PUSH(&rewriting->arena, &rewriting->rest_marks);
        if (!mark)
            return MUTA_E_MEMORY;
        *mark = (muta_rest_mark){.note = index, .voice = note->voice};
        muta_plan_place(rewriting->plan, passage, rewriting->part,
                        muta_statement_place(statement, edge), false, &mark->bar, &mark->onset);
    }
    return MUTA_OK;
}

muta_status muta_rest_marks_find(muta_rewriting *rewriting)
{
    const muta_plan *const plan = rewriting->plan;
    const muta_part *const part = part_of(rewriting);

    for (size_t i = 0; i < plan->passages.count; i++) {
        const muta_passage *const passage = plan->passages.at[i].passage;
        if (muta_passage_keeps_time(passage))
            continue;
        for (uint32_t bar = passage->from.bar; bar <= passage->to.bar && bar < part->bar_count;
             bar++)
            for (uint32_t j = part->bars[bar].first;
                 j < part->bars[bar].first + part->bars[bar].count; j++) {
                const muta_note *const note = &part->notes.at[j];
                const muta_moment at = {note->bar, note->staff, note->onset};
                if ((note->flags & MUTA_NOTE_REST) && muta_moment_compare(passage->from, at) <= 0 &&
                    muta_moment_compare(at, passage->to) < 0 &&
                    muta_tree_child(&rewriting->score->tree, note->node, N_NOTATIONS) &&
                    works_on(passage, rewriting->part, note->voice))
                    MUTA_TRY(follow(rewriting, passage, j));
            }
    }
    return MUTA_OK;
}

bool muta_rest_marks_has(const muta_rewriting *rewriting, uint32_t rest)
{
    for (size_t i = 0; i < rewriting->rest_marks.count; i++)
        if (rewriting->rest_marks.at[i].note == rest)
            return true;
    return false;
}

muta_status muta_rest_marks_put(muta_rewriting *rewriting, const muta_voice_bar *bar,
                                const muta_item *item, muta_node rest)
{
    for (size_t i = 0; i < rewriting->rest_marks.count; i++) {
        muta_rest_mark *const mark = &rewriting->rest_marks.at[i];
        if (mark->is_put || mark->bar != bar->bar || mark->voice != bar->voice ||
            muta_fraction_compare(mark->onset, item->from) < 0 ||
            muta_fraction_compare(item->to, mark->onset) <= 0)
            continue;
        mark->is_put = true;
        MUTA_TRY(muta_note_form_marks(&rewriting->score->tree,
                                      part_of(rewriting)->notes.at[mark->note].node, true, rest));
    }
    return MUTA_OK;
}

void muta_rest_marks_tell(const muta_rewriting *rewriting)
{
    for (size_t i = 0; i < rewriting->rest_marks.count; i++) {
        const muta_note *const note =
            &part_of(rewriting)->notes.at[rewriting->rest_marks.at[i].note];
        if (!rewriting->rest_marks.at[i].is_put)
            muta_diag_add(rewriting->diags, MUTA_WARNING,
                          muta_score_place(rewriting->score, part_of(rewriting),
                                           (muta_moment){note->bar, note->staff, note->onset}),
                          "what stood on a rest found no rest where it goes and was taken off");
    }
}
