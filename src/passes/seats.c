/* seats.c: the hands, or the players, of an accompaniment. */
#include "passes/seats.h"
#include <stdlib.h>
#include <string.h>

enum {
    STAVES = 4
};

/* What is played on the staves of a part besides the tune. */
struct part_use {
    size_t tones[STAVES];
    size_t chords; /* events of several tones */
    bool has_tune[STAVES];
    int64_t semitones; /* of all tones together */
    size_t total;
};

static bool is_percussion(const muta_passage *passage, const muta_line *line)
{
    return line->event_count == 0 ||
           passage->work.tones.at[passage->work.events.at[line->event].tone].is_fixed;
}

static void look(const muta_passage *passage, uint32_t part, struct part_use *use)
{
    *use = (struct part_use){.chords = 0};
    for (size_t i = 0; i < passage->work.lines.count; i++) {
        const muta_line *const line = &passage->work.lines.at[i];
        const uint8_t staff = line->staff <= STAVES ? (uint8_t)(line->staff - 1) : STAVES - 1;
        if (line->part != part || is_percussion(passage, line))
            continue;
        use->has_tune[staff] = use->has_tune[staff] || line->is_tune;
        for (uint32_t j = line->event; !line->is_tune && j < line->event + line->event_count; j++) {
            const muta_event *const event = &passage->work.events.at[j];
            use->tones[staff] += event->tone_count;
            use->total += event->tone_count;
            use->chords += event->tone_count > 1;
            for (uint32_t k = 0; k < event->tone_count; k++)
                use->semitones +=
                    muta_pitch_semitones(passage->work.tones.at[event->tone + k].pitch);
        }
    }
}

static muta_seat seat_of(const muta_passage *passage, uint32_t part, uint8_t staff)
{
    muta_seat seat = {part, staff, {7, 0}, {56, 0}};
    muta_instrument instrument;

    if (muta_part_instrument(&passage->score->parts[part], &instrument)) {
        seat.low = instrument.low;
        seat.high = instrument.high;
    }
    return seat;
}

/* Whether one player can strike chords on it. */
static bool plays_chords(const muta_passage *passage, uint32_t part, const struct part_use *use)
{
    muta_instrument instrument;

    if (passage->score->parts[part].staves > 1)
        return true;
    if (muta_part_instrument(&passage->score->parts[part], &instrument))
        return muta_text_is(instrument.family, "keys") ||
               muta_text_is(instrument.family, "plucked");
    return use->chords * 4 > use->total;
}

/* The staves of a part that the tune leaves free: both hands, or one. */
static void take_hands(const muta_passage *passage, uint32_t part, const struct part_use *use,
                       muta_seats *seats)
{
    const size_t staves = passage->score->parts[part].staves;

    seats->count = 0;
    for (size_t staff = staves < STAVES ? staves : STAVES; staff > 0 && seats->count < 2; staff--)
        if (!use->has_tune[staff - 1])
            seats->at[seats->count++] = seat_of(passage, part, (uint8_t)staff);
    seats->seating = seats->count == 2 ? MUTA_SEATS_TWO_HANDS : MUTA_SEATS_ONE_HAND;
}

/* Players sit by how high they play. */
static void take_players(const muta_passage *passage, muta_seats *seats)
{
    int64_t heights[MUTA_VOICES];
    struct part_use use;

    seats->seating = MUTA_SEATS_PLAYERS;
    seats->count = 0;
    for (uint32_t part = 0; part < passage->score->part_count && seats->count < MUTA_VOICES - 1;
         part++) {
        look(passage, part, &use);
        if (use.total == 0 || use.has_tune[0])
            continue;
        const int64_t height = use.semitones / (int64_t)use.total;
        uint8_t to = seats->count++;
        for (; to > 0 && heights[to - 1] > height; to--) {
            heights[to] = heights[to - 1];
            seats->at[to] = seats->at[to - 1];
        }
        heights[to] = height;
        seats->at[to] = seat_of(passage, part, 1);
    }
}

static muta_status take_only(const muta_passage *passage, const char *only, muta_seats *seats,
                             muta_diags *diags)
{
    muta_region *region;
    struct part_use use;

    MUTA_TRY(muta_region_parse(passage->score, only, &region, diags));
    const muta_range range = region->ranges.at[0];
    muta_region_free(region);
    look(passage, range.part, &use);
    if (range.staff == MUTA_ANY && passage->score->parts[range.part].staves > 1) {
        take_hands(passage, range.part, &use, seats);
        return MUTA_OK;
    }
    seats->seating = MUTA_SEATS_ONE_HAND;
    seats->count = 1;
    seats->at[0] = seat_of(passage, range.part, range.staff == MUTA_ANY ? 1 : range.staff);
    return MUTA_OK;
}

muta_status muta_seats_find(const muta_passage *passage, const char *only, muta_seats *seats,
                            muta_diags *diags)
{
    struct part_use use;
    size_t most = 0;

    *seats = (muta_seats){.count = 0};
    if (only)
        return take_only(passage, only, seats, diags);
    for (uint32_t part = 0; part < passage->score->part_count; part++) {
        look(passage, part, &use);
        if (use.total <= most || !plays_chords(passage, part, &use))
            continue;
        muta_seats hands = {.count = 0};
        take_hands(passage, part, &use, &hands);
        if (hands.count == 0)
            continue;
        most = use.total;
        *seats = hands;
    }
    if (most == 0)
        take_players(passage, seats);
    return MUTA_OK;
}

void muta_seats_of_made(const muta_passage *passage, muta_seats *seats)
{
    *seats = (muta_seats){.seating = MUTA_SEATS_TWO_HANDS, .count = 2};
    seats->at[0] = seat_of(passage, passage->made_part, 2);
    seats->at[1] = seat_of(passage, passage->made_part, 1);
}

bool muta_seats_have(const muta_seats *seats, const muta_line *line)
{
    for (uint8_t i = 0; i < seats->count; i++)
        if (seats->at[i].part == line->part && !line->is_tune &&
            (seats->seating != MUTA_SEATS_PLAYERS || seats->at[i].staff == line->staff))
            return true;
    return false;
}
