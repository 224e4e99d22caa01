/* harmonising_answer.c: which of the answers is asked for: how far it strays, and how much it
 * differs from those before it. */
#include "passes/harmonising.h"

enum {
    HALVINGS = 8,       /* of what a price may be, until it is near enough */
    DRIVEN = 3500,      /* thousandths: what a quarter on another root is worth at most, */
    DRIVEN_FAR = 24000, /* so much more where one strays altogether, */
    HELD_BACK = -2000,  /* and at least */
    APART = 16000,      /* what a chord that an answer before has too costs at most */
    STRAYED =
        980, /* thousandths of the time that are to go to other roots at most: as many do not */
};

/* ---- how far it strays ---- */

/* The share of the time in which another root sounds than before, in thousandths. */
static int64_t strayed(const struct muta_harmonising *work, const muta_answer *answer)
{
    const muta_fraction whole = muta_fraction_scale(muta_passage_length(work->call->in), 1000);
    int64_t other = 0;

    for (size_t i = 0; i < work->slots.count; i++)
        other += work->options.at[work->slots.at[i].option + answer->taken[i]].strays;
    return whole.top > 0 ? other * 1000 * whole.bottom / whole.top : 0;
}

/* Other roots are worth as much as brings them for the share of the time that is asked for. */
static muta_status drive(struct muta_harmonising *work)
{
    const int64_t asked = work->stray * STRAYED / 1000;
    int64_t low = HELD_BACK;
    const int64_t square = work->stray * work->stray / 1000;
    int64_t high = DRIVEN + DRIVEN_FAR * square / 1000 * work->stray / 1000;

    for (size_t i = 0; i < HALVINGS; i++) {
        const muta_answer *answer;
        work->drive = (low + high) / 2;
        MUTA_TRY(muta_harmonising_best(work, &answer));
        if (strayed(work, answer) < asked)
            low = work->drive;
        else
            high = work->drive;
    }
    work->drive = high;
    work->is_driven = true;
    return MUTA_OK;
}

/* ---- how much it differs ---- */

static bool sound_alike(const struct muta_harmonised_option *a,
                        const struct muta_harmonised_option *b)
{
    return a->root_class == b->root_class && a->value.kind == b->value.kind &&
           a->bass_class == b->bass_class;
}

/* Whether a third of the chords of two answers differ, of those that may be others. */
static bool differ(const struct muta_harmonising *work, const muta_answer *a, const muta_answer *b)
{
    size_t others = 0;
    size_t free = 0;

    for (size_t i = 0; i < work->slots.count; i++) {
        const struct muta_harmonised_option *const options =
            &work->options.at[work->slots.at[i].option];
        free += work->slots.at[i].count > 1;
        others += !sound_alike(&options[a->taken[i]], &options[b->taken[i]]);
    }
    return others > 0 && others * 3 >= free;
}

/* Marks what sounds as in an answer. */
static void mark(struct muta_harmonising *work, const muta_answer *answer)
{
    for (size_t i = 0; i < work->slots.count; i++) {
        const struct muta_harmonised_slot *const slot = &work->slots.at[i];
        struct muta_harmonised_option *const options = &work->options.at[slot->option];
        for (size_t j = 0; j < slot->count; j++)
            options[j].takers += sound_alike(&options[j], &options[answer->taken[i]]);
    }
}

/* The best of the answers that differ from those before. */
static muta_status find_next(struct muta_harmonising *work, const muta_answer *before, size_t count,
                             const muta_answer **answer)
{
    int64_t low = 0;
    int64_t high = APART;

    mark(work, &before[count - 1]);
    for (size_t i = 0; i <= HALVINGS; i++) {
        bool is_new = true;
        /* At last what was found to be enough. */
        work->apart = i < HALVINGS ? (low + high) / 2 : high;
        MUTA_TRY(muta_harmonising_best(work, answer));
        for (size_t j = 0; j < count; j++)
            is_new = is_new && differ(work, &before[j], *answer);
        if (is_new)
            high = work->apart;
        else
            low = work->apart;
    }
    return MUTA_OK;
}

muta_status muta_harmonising_search(struct muta_harmonising *work, const muta_answer **answer)
{
    const size_t pick = work->call->pick;
    muta_answer *const before = muta_arena_take_array(&work->arena, pick, sizeof *before);

    if (!before)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < work->options.count; i++)
        work->options.at[i].takers = 0;
    work->apart = 0;
    if (!work->alone && !work->is_anew && !work->is_driven)
        MUTA_TRY(drive(work));
    MUTA_TRY(muta_harmonising_best(work, answer));
    for (size_t found = 1; found < pick; found++) {
        before[found - 1] = **answer;
        MUTA_TRY(find_next(work, before, found, answer));
    }
    return MUTA_OK;
}

/* ---- as chords ---- */

static muta_passage_chord chord_of(const struct muta_harmonised_slot *slot,
                                   const struct muta_harmonised_option *option)
{
    muta_passage_chord chord = *slot->old;
    const bool stays = option->root_class == muta_fifths_class(chord.value.root) &&
                       option->value.kind == chord.value.kind &&
                       option->value.bass == chord.value.bass;

    chord.from = slot->from;
    chord.to = slot->to;
    if (stays)
        return chord;
    chord.value = option->value;
    chord.is_written = false;
    muta_numeral_set(&chord);
    return chord;
}

muta_status muta_harmonising_take(struct muta_harmonising *work, const muta_answer *answer,
                                  muta_passage_chord **chords)
{
    muta_passage_chord *const taken =
        muta_arena_take_array(&work->arena, work->slots.count + 1, sizeof *taken);

    if (!taken)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < work->slots.count; i++)
        taken[i] = chord_of(&work->slots.at[i],
                            &work->options.at[work->slots.at[i].option + answer->taken[i]]);
    *chords = taken;
    return MUTA_OK;
}
