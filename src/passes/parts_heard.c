/* parts_heard.c: what sounds as chords begin, and what is wrong in it. */
#include "passes/parts_heard.h"
#include <stdio.h>
#include <string.h>

/* The first of some moments that is not before one. */
static size_t first_from(const muta_fraction *onsets, size_t count, muta_fraction time)
{
    size_t low = 0;

    while (low < count) {
        const size_t middle = low + (count - low) / 2;
        if (muta_fraction_compare(onsets[middle], time) < 0)
            low = middle + 1;
        else
            count = middle;
    }
    return low;
}

void muta_parts_hear(const muta_passage *passage, const muta_harmony_slot *slots,
                     const muta_fraction *onsets, size_t count, muta_voiced *voiced)
{
    const muta_texture work = muta_passage_work(passage);

    for (size_t i = 0; i < count; i++)
        voiced[i] = (muta_voiced){.slot = &slots[i]};
    for (size_t i = 0; i < work.tone_count; i++) {
        const muta_event *const event = &work.events[work.tones[i].event];
        const muta_fraction end = muta_fraction_add(event->onset, work.tones[i].duration);
        if (event->is_grace)
            continue;
        for (size_t at = first_from(onsets, count, event->onset);
             at < count && muta_fraction_compare(onsets[at], end) < 0; at++)
            muta_voiced_add(&voiced[at], work.tones[i].pitch);
    }
    for (size_t i = 0; i < count; i++)
        muta_voiced_read(&voiced[i]);
}

void muta_parts_tell(const size_t broken[MUTA_RULES], muta_diags *diags)
{
    char text[800] = "";

    for (size_t i = 0; i < MUTA_RULES; i++) {
        const size_t used = strlen(text);
        if (broken[i] > 0 && muta_rule_rows[i].is_fault)
            (void)snprintf(text + used, sizeof text - used, "%s%s (%zu)", used ? ", " : "",
                           muta_rule_rows[i].name, broken[i]);
    }
    if (text[0])
        muta_diag_add(diags, MUTA_WARNING, MUTA_NOWHERE, "part-writing had to break rules: %s",
                      text);
}
