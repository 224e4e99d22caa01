/* symbols.c: chord symbols that are written win over what is heard. */
#include "musicxml/symbol.h"
#include "study/study.h"
#include <string.h>

struct written {
    int64_t from;
    int64_t to;
    muta_symbol symbol;
    bool is_own;  /* a person says so; it does not stand in the score */
    bool is_none; /* that there is no chord */
};

typedef MUTA_VEC(struct written) writtens;

/* The kind that is heard as a written one: its triad, its seventh. */
static muta_chord_kind kind_of(const char *name)
{
    static const struct {
        const char *name;
        muta_chord_kind kind;
    } others[] = {
        {"major-sixth", MUTA_CHORD_MAJOR},           {"minor-sixth", MUTA_CHORD_MINOR},
        {"dominant-ninth", MUTA_CHORD_DOMINANT},     {"major-ninth", MUTA_CHORD_MAJOR_SEVENTH},
        {"minor-ninth", MUTA_CHORD_MINOR_SEVENTH},   {"dominant-11th", MUTA_CHORD_DOMINANT},
        {"major-11th", MUTA_CHORD_MAJOR_SEVENTH},    {"minor-11th", MUTA_CHORD_MINOR_SEVENTH},
        {"dominant-13th", MUTA_CHORD_DOMINANT},      {"major-13th", MUTA_CHORD_MAJOR_SEVENTH},
        {"minor-13th", MUTA_CHORD_MINOR_SEVENTH},    {"major-minor", MUTA_CHORD_MINOR},
        {"augmented-seventh", MUTA_CHORD_AUGMENTED},
    };
    muta_chord_kind kind;

    if (muta_chord_find(name, &kind) && (int)kind < (int)MUTA_CHORD_KINDS)
        return kind;
    for (size_t i = 0; i < MUTA_LENGTH(others); i++)
        if (strcmp(others[i].name, name) == 0)
            return others[i].kind;
    return MUTA_CHORD_MAJOR;
}

static int64_t ticks_at(const muta_study *study, muta_moment at)
{
    const muta_passage *const passage = study->passage;
    const muta_fraction start =
        muta_fraction_add(study->score->bars[passage->from.bar].start, passage->from.onset);
    const muta_fraction time = muta_fraction_subtract(
        muta_fraction_add(study->score->bars[at.bar].start, at.onset), start);
    const muta_fraction ticks = muta_fraction_scale(time, study->heard.quarter);

    return ticks.bottom > 0 ? ticks.top / ticks.bottom : -1;
}

static muta_status push(muta_study *study, writtens *written, const struct written *one)
{
    if (one->from < 0 || one->from >= study->heard.end)
        return MUTA_OK;
    if (written->count > 0)
        written->at[written->count - 1].to = one->from;
    struct written *const added = MUTA_PUSH(&study->arena, written);
    if (!added)
        return MUTA_E_MEMORY;
    *added = *one;
    return MUTA_OK;
}

/* A person's own reading. */
static muta_status read_readings(muta_study *study, writtens *written)
{
    for (size_t i = 0; i < study->score->own_chords.rows.count; i++) {
        const muta_own_chord *const reading = &study->score->own_chords.rows.at[i];
        const muta_chord_row *const row = muta_chord_row_of(reading->value.kind);
        if (reading->at.bar >= study->score->bar_count)
            continue;
        const struct written one = {
            .from = ticks_at(study, reading->at),
            .to = study->heard.end,
            .symbol = {reading->value.root, reading->value.root + row->fifths[reading->value.bass],
                       row->name},
            .is_own = true,
            .is_none = reading->is_none};
        MUTA_TRY(push(study, written, &one));
    }
    return MUTA_OK;
}

/* The symbols of the first part that has some, over the passage. */
static muta_status read_written(muta_study *study, writtens *written)
{
    const muta_score *const score = study->score;

    MUTA_TRY(read_readings(study, written));
    for (size_t i = 0; i < score->part_count && written->count == 0; i++) {
        const muta_part *const part = &score->parts[i];
        for (size_t j = 0; j < part->harmonies.count; j++) {
            struct written one = {.to = study->heard.end,
                                  .symbol = {0, 0, "major"},
                                  .is_none = muta_symbol_is_none(score, &part->harmonies.at[j])};
            if (part->harmonies.at[j].at.bar >= score->bar_count ||
                (!one.is_none && !muta_symbol_read(score, &part->harmonies.at[j], &one.symbol)))
                continue;
            one.from = ticks_at(study, part->harmonies.at[j].at);
            const int32_t by =
                muta_interval_fifths(muta_part_transposition_at(part, part->harmonies.at[j].at));
            one.symbol.root += by;
            one.symbol.bass += by;
            MUTA_TRY(push(study, written, &one));
        }
    }
    return MUTA_OK;
}

static muta_heard_chord chord_of(const muta_study *study, const struct written *written)
{
    const muta_heard_key *const key = muta_look_key(study, written->from);
    const int root = muta_fifths_class(written->symbol.root);
    muta_heard_chord chord = {
        .from = written->from,
        .to = written->to,
        .value = {.root = written->symbol.root, .kind = kind_of(written->symbol.kind)},
        .key = key ? key->key : 0,
    };
    const int tone =
        muta_chord_tone(chord.value.kind, muta_fifths_class(written->symbol.bass) - root);

    chord.value.bass = (uint8_t)(tone > 0 ? tone : 0);
    return chord;
}

static muta_status add(muta_study *study, muta_heard_chords *chords, const muta_heard_chord *chord,
                       const char *symbol)
{
    muta_heard_chord *const added = MUTA_PUSH(&study->arena, chords);

    if (!added)
        return MUTA_E_MEMORY;
    *added = *chord;
    study->symbols[chords->count - 1] = symbol;
    return MUTA_OK;
}

/* Whether a chord is among them; a person may say that there is none at all, a score does not. */
static bool says_chords(const writtens *written)
{
    for (size_t i = 0; i < written->count; i++)
        if (written->at[i].is_own || !written->at[i].is_none)
            return true;
    return false;
}

muta_status muta_symbols_take(muta_study *study)
{
    writtens written = {0};
    muta_heard_chords chords = {0};

    MUTA_TRY(read_written(study, &written));
    study->symbols = (const char **)muta_arena_take_array(
        &study->arena, study->chords.count + written.count + 1, sizeof *study->symbols);
    if (!study->symbols)
        return MUTA_E_MEMORY;
    if (!written.at || !says_chords(&written))
        return MUTA_OK;
    /* What sounds before the first symbol is heard. */
    for (size_t i = 0; i < study->chords.count; i++) {
        muta_heard_chord chord = study->chords.at[i];
        if (chord.from >= written.at[0].from)
            break;
        chord.to = chord.to < written.at[0].from ? chord.to : written.at[0].from;
        MUTA_TRY(add(study, &chords, &chord, NULL));
    }
    for (size_t i = 0; i < written.count; i++) {
        const muta_heard_chord chord = chord_of(study, &written.at[i]);
        if (chord.from < chord.to && !written.at[i].is_none)
            MUTA_TRY(add(study, &chords, &chord,
                         written.at[i].is_own ? NULL : written.at[i].symbol.kind));
    }
    study->chords = chords;
    return MUTA_OK;
}
