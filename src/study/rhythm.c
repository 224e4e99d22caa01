/* rhythm.c: hemiolas: over two bars of three beats the tune moves in three times two. */
#include "study/study.h"

/* Whether a tone of the tune begins at a moment; and whether one is held across it. */
static bool begins_at(const muta_study *study, size_t first, int64_t at, bool *is_held)
{
    *is_held = false;
    for (size_t i = first; i < study->tune.count; i++) {
        const muta_heard_tone *const tone = muta_look_tone(study, i);
        if (tone->from > at)
            break;
        if (tone->from == at)
            return true;
        *is_held = tone->to > at;
    }
    return false;
}

/* Tones on the first, third and second beat of two bars, and one held across the bar line. */
static bool is_hemiola(const muta_study *study, size_t first, const muta_heard_bar *bar)
{
    const int64_t beat = bar->beat;
    bool held;

    for (int64_t two = 0; two < 3; two++)
        if (!begins_at(study, first, bar->from + 2 * two * beat, &held))
            return false;
    return !begins_at(study, first, bar->from + 3 * beat, &held) && held;
}

muta_status muta_hemiolas_find(muta_study *study)
{
    size_t first = 0;

    for (size_t i = 0; i + 1 < study->heard.bars.count; i++) {
        const muta_heard_bar *const bar = &study->heard.bars.at[i];
        while (first < study->tune.count && muta_look_tone(study, first)->to <= bar->from)
            first++;
        if (bar->beats != 3 || bar[1].beats != 3 || bar->is_compound || bar->offset > 0 ||
            !is_hemiola(study, first, bar))
            continue;
        muta_hemiola *const found = MUTA_PUSH(&study->arena, &study->hemiolas);
        if (!found)
            return MUTA_E_MEMORY;
        *found = (muta_hemiola){bar->from, bar[1].to};
    }
    return MUTA_OK;
}
