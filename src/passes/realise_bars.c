/* realise_bars.c: the bars of a passage, and which of them are interludes, which stay. */
#include "passes/realising.h"
#include <stddef.h>

static muta_status lay_bars(struct muta_realising *realising)
{
    const muta_fraction length = realising->call->in->length;

    for (muta_fraction at = MUTA_ZERO; muta_fraction_compare(at, length) < 0;) {
        struct muta_realise_bar *const bar = MUTA_PUSH(&realising->arena, &realising->bars);
        muta_beat beat;
        if (!bar)
            return MUTA_E_MEMORY;
        muta_passage_beat_at(realising->call->in, at, &beat);
        const bool goes_on = muta_fraction_compare(beat.end, at) > 0;
        *bar = (struct muta_realise_bar){at, goes_on ? muta_fraction_min(beat.end, length) : length,
                                         MUTA_ZERO, MUTA_ZERO, false};
        at = bar->to;
    }
    return MUTA_OK;
}

struct muta_realise_bar *muta_realise_bar_at(const struct muta_realising *realising,
                                             muta_fraction at)
{
    size_t low = 0;
    size_t high = realising->bars.count;

    while (high - low > 1) {
        const size_t middle = low + (high - low) / 2;
        if (muta_fraction_compare(realising->bars.at[middle].from, at) <= 0)
            low = middle;
        else
            high = middle;
    }
    return &realising->bars.at[low];
}

/* A tone of the tune that is held sounds in every bar that it lasts through. */
static void sound_through(struct muta_realising *realising, const muta_event *event)
{
    const muta_fraction end = muta_fraction_add(event->onset, event->duration);
    struct muta_realise_bar *const last = realising->bars.at + realising->bars.count;

    for (struct muta_realise_bar *bar = muta_realise_bar_at(realising, event->onset);
         bar < last && muta_fraction_compare(bar->from, end) < 0; bar++)
        if (bar->tune.top == 0)
            bar->tune = event->duration;
}

/* Where the tune is: an interlude of the accompaniment has it itself. */
static void weigh_bars(struct muta_realising *realising)
{
    for (size_t i = 0; i < realising->work.tone_count; i++) {
        const muta_tone *const tone = &realising->work.tones[i];
        struct muta_realise_bar *const bar =
            muta_realise_bar_at(realising, realising->work.events[tone->event].onset);
        muta_fraction *const sum =
            muta_seats_have(&realising->seats, &realising->work.lines[tone->line]) ? &bar->there
                                                                                   : &bar->tune;
        if (tone->is_tune)
            *sum = muta_fraction_add(*sum, tone->duration);
    }
    for (uint32_t i = realising->tune ? realising->tune->event : 0;
         realising->tune && i < realising->tune->event + realising->tune->event_count; i++)
        sound_through(realising, &realising->work.events[i]);
}

/* Interludes stay: bars in which what would be replaced has the tune, and rests of the tune,
 * several bars long. */
static void find_interludes(struct muta_realising *realising)
{
    enum {
        SEVERAL = 2
    };
    size_t silent = 0;

    for (size_t i = 0; i < realising->bars.count; i++) {
        struct muta_realise_bar *const bar = &realising->bars.at[i];
        silent = bar->tune.top == 0 && realising->tune ? silent + 1 : 0;
        bar->stays = muta_fraction_compare(bar->there, bar->tune) > 0;
        for (size_t j = 0; silent >= SEVERAL && j < silent; j++)
            bar[-(ptrdiff_t)j].stays = true;
    }
}

bool muta_realise_stays(const struct muta_realising *realising, muta_fraction at)
{
    return muta_realise_bar_at(realising, at)->stays;
}

muta_status muta_realise_find_bars(struct muta_realising *realising)
{
    MUTA_TRY(lay_bars(realising));
    weigh_bars(realising);
    find_interludes(realising);
    return MUTA_OK;
}
