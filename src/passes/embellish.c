/* embellish.c: ornaments where a player would put them, as signs or written out. */
#include "base/random.h"
#include "base/search.h"
#include "passes/pass.h"
#include "score/sense.h"
#include "theory/ornament.h"
#include "theory/part_writing.h"
#include "theory/table.h"
#include <stdlib.h>
#include <string.h>

enum {
    AS_SIGNS,
    AS_NOTES
};

static const char *const ases[] = {"signs", "notes", NULL};

struct args {
    muta_fraction amount;
    const char *figures;
    int as;
    const char *after;
};

static const muta_param params[] = {
    MUTA_ARG_SHARE(struct args, amount, "0.4", "of the tones that can bear one"),
    {.name = "figures",
     .type = MUTA_PARAM_TEXT,
     .otherwise = "passing,neighbour,turn,trill",
     .help = "which: mordent, upper-mordent, turn, turn-below, turn-after, trill, appoggiatura, "
             "acciaccatura, slide, neighbour, passing, escape, anticipation; signs: those that "
             "stand in the score, written out",
     .offset = MUTA_FIELD(struct args, figures, const char *)},
    MUTA_ARG_CHOICE(struct args, as, "notes", ases,
                    "written out, or as signs where there is a sign"),
    MUTA_ARG_TEXT(struct args, after, "the treatise that has them so: bach, emanuel, main"),
};

enum {
    BEST = 3,   /* figures of an event that are looked at */
    GROUP = 24, /* events that are chosen from together, at most */
    PIECES = MUTA_STROKES + 4
};

enum {
    SHORT_OF = 100000, /* in thousandths: an ornament that is not put */
    JITTER = 700       /* how much the seed may tip the scales */
};

/* A figure that an event may get. */
struct option {
    muta_ornament ornament;
    int64_t merit;
};

/* An event with what surrounds it. */
struct site {
    uint32_t event;
    const muta_tone *tone; /* its highest */
    const muta_tone *next; /* NULL behind the last of what is joined */
    const muta_tone *before;
    struct option options[BEST];
    uint32_t count;
};

struct embellishing {
    const muta_call *call;
    muta_texture work;
    muta_arena arena;
    bool wanted[MUTA_ORNAMENT_COUNT];
    bool writes_out;
    bool is_asked; /* the figures are a person's choice */
    MUTA_VEC(struct site) sites;
    muta_ornament *chosen; /* by event */
    uint32_t *first;       /* by event of the line: what it returns from */
    uint32_t line_event;   /* the line's first */
    bool is_sung;          /* the line */
    /* of the group that is searched */
    const struct site *group;
    size_t group_count;
    uint32_t quota;
};

/* ---- what may be asked for ---- */

static muta_status read_figures(struct embellishing *work)
{
    const struct args *args = work->call->args;
    const char *const usual = params[1].otherwise;
    muta_text rest = {args->figures, strlen(args->figures)};
    muta_text name;

    work->is_asked = strcmp(args->figures, usual) != 0;
    while (muta_cell_next(&rest, &name)) {
        const muta_ornament ornament = muta_ornament_named(name);
        if (muta_text_is(name, "signs")) {
            work->writes_out = true;
        } else if (ornament) {
            work->wanted[ornament] = true;
        } else {
            muta_diag_add(work->call->diags, MUTA_ERROR, MUTA_NOWHERE,
                          "there is no figure \"%.*s\"; `mutanza passes embellish` lists them",
                          (int)name.length, name.at);
            return MUTA_E_USAGE;
        }
    }
    if (!args->after || muta_treatise_is_known(args->after))
        return MUTA_OK;
    muta_diag_add(work->call->diags, MUTA_ERROR, MUTA_NOWHERE,
                  "there is no treatise \"%.60s\"; there are bach, emanuel, main", args->after);
    return MUTA_E_USAGE;
}

/* ---- what suits where ---- */

static int32_t sound(const muta_tone *tone)
{
    return muta_pitch_sound(tone->pitch) / MUTA_SEMITONE;
}

static int32_t steps_between(const muta_tone *from, const muta_tone *to)
{
    return to ? to->pitch.place - from->pitch.place : 0;
}

static const muta_event *event_of(const struct embellishing *work, const struct site *site)
{
    return &work->work.events[site->event];
}

/* What an ornament has to know of an event. */
static muta_ornament_place place_of(const struct embellishing *work, const struct site *site)
{
    const muta_event *const event = event_of(work, site);
    const muta_event *const next = site->next ? &work->work.events[site->next->event] : NULL;

    return (muta_ornament_place){.lasts = event->duration,
                                 .on = steps_between(site->tone, site->next),
                                 .back = steps_between(site->tone, site->before),
                                 .has_next = next,
                                 .has_before = site->before,
                                 .repeats = next && sound(site->next) == sound(site->tone),
                                 .leads_to_end = next && next->closes,
                                 .is_sung = work->is_sung,
                                 .is_asked = work->is_asked,
                                 .level = event->level,
                                 .next_level = next ? next->level : 0};
}

/* How the seed tips the scales for a figure at an event, and alike where that comes back. */
static int64_t jitter(const struct embellishing *work, uint32_t event, muta_ornament ornament)
{
    const uint64_t first = work->first[event - work->line_event];
    const uint64_t place = first * MUTA_ORNAMENT_COUNT + (uint64_t)ornament;

    return (int64_t)(muta_random(work->call->seed, place) % JITTER);
}

static void add_option(struct site *site, struct option option)
{
    uint32_t at = site->count < BEST ? site->count++ : BEST - 1;

    if (at == BEST - 1 && site->count == BEST && site->options[at].ornament &&
        site->options[at].merit >= option.merit)
        return;
    for (; at > 0 && site->options[at - 1].merit < option.merit; at--)
        site->options[at] = site->options[at - 1];
    site->options[at] = option;
}

/* ---- the events of a line ---- */

/* What is too short, closes a phrase, leans on the next tone, is kept, or has an ornament already
 * is left alone. */
static bool may_bear(const struct embellishing *work, const muta_line *line, uint32_t index)
{
    const muta_event *const event = &work->work.events[index];
    const bool has_grace = index > line->event && work->work.events[index - 1].is_grace;

    return muta_texture_is_plain(&work->work, index) && !has_grace && !event->written.ornament &&
           !event->closes && !event->leans && !event->is_hidden &&
           muta_fraction_compare(event->duration, muta_fraction_of(1, 2)) >= 0 &&
           !(work->call->kept && work->call->kept[index]) &&
           !muta_passage_note(work->call->in, index)->ornament;
}

/* The tone that follows an event at once, or that it follows. */
static const muta_tone *joined(const struct embellishing *work, const muta_line *line,
                               uint32_t index, int by)
{
    int64_t at = (int64_t)index + by;

    while (at >= line->event && at < (int64_t)line->event + line->event_count &&
           !muta_texture_is_plain(&work->work, (uint32_t)at))
        at += by;
    if (at < line->event || at >= (int64_t)line->event + line->event_count)
        return NULL;
    const muta_event *const first = &work->work.events[by > 0 ? index : at];
    const muta_event *const second = &work->work.events[by > 0 ? at : index];
    return muta_fraction_compare(muta_fraction_add(first->onset, first->duration), second->onset) ==
                   0
               ? muta_texture_top(&work->work, (uint32_t)at)
               : NULL;
}

/* ---- figures as they are played ---- */

/* The tone a step away. */
static muta_pitch neighbour(const struct embellishing *work, const struct site *site, int32_t side)
{
    const muta_event *const event = event_of(work, site);
    const muta_sense sense = muta_sense_at(work->call->in, site->tone, event->onset);
    const muta_pitch pitch = site->tone->pitch;
    muta_pitch there = muta_sense_neighbour(&sense, pitch, side);

    if (!muta_passage_chord_has(sense.chord, there))
        (void)muta_passage_letter_at(work->call->in, site->event, muta_pitch_step(there),
                                     &there.alter);
    /* Not by an augmented second. */
    if (side == 1 && muta_pitch_sound(there) - muta_pitch_sound(pitch) == 3 * MUTA_SEMITONE)
        there.alter -= MUTA_SEMITONE;
    if (side == -1 && muta_pitch_sound(pitch) - muta_pitch_sound(there) == 3 * MUTA_SEMITONE)
        there.alter += MUTA_SEMITONE;
    return there;
}

/* The pitch a sign gives a neighbour, or what stands there. */
static muta_pitch shown_neighbour(const struct embellishing *work, const struct site *site,
                                  int32_t steps)
{
    const muta_note *const note = muta_passage_note(work->call->in, site->event);
    muta_pitch there = neighbour(work, site, steps);
    const uint8_t sign = steps > 0 ? note->above : note->below;

    for (int32_t alter = -2; sign && steps * steps == 1 && alter <= 2; alter++)
        if (muta_sign_of(alter * MUTA_SEMITONE) == sign)
            there.alter = alter * MUTA_SEMITONE;
    return there;
}

static muta_piece piece(muta_fraction onset, muta_fraction duration, muta_pitch pitch)
{
    return (muta_piece){onset, duration, pitch, MUTA_GRACE_WRITTEN};
}

/* A row of the table; a trill before anything but a falling second gets its ending. */
static const char *row_of(const struct site *site, muta_ornament ornament)
{
    if (ornament == MUTA_ORNAMENT_TRILL && steps_between(site->tone, site->next) != -1 &&
        site->next)
        return "trill-ended";
    return muta_ornament_row_of(ornament)->name;
}

static size_t play(const struct embellishing *work, const struct site *site, muta_ornament ornament,
                   muta_piece *pieces)
{
    const struct args *args = work->call->args;
    const muta_event *const event = event_of(work, site);
    muta_fraction at = event->onset;
    muta_stroke strokes[MUTA_STROKES];
    const size_t strokes_count =
        muta_ornament_realise(row_of(site, ornament), args->after, event->duration, strokes);

    for (size_t i = 0; i < strokes_count; i++) {
        pieces[i] = piece(at, strokes[i].duration,
                          strokes[i].steps == 0 ? site->tone->pitch
                                                : shown_neighbour(work, site, strokes[i].steps));
        at = muta_fraction_add(at, strokes[i].duration);
    }
    return strokes_count;
}

/* The end of a tone that is given away: half of it, of a dotted one a third, of a long one an
 * eighth. */
static muta_fraction given_away(muta_fraction duration)
{
    const muta_fraction part =
        muta_fraction_divide(duration, muta_fraction_of(duration.top % 3 == 0 ? 3 : 2, 1));

    return muta_fraction_compare(part, muta_fraction_of(1, 1)) >= 0 ? muta_fraction_of(1, 2) : part;
}

/* The main note, then others in equal parts of what it gives away. */
static size_t end_with(const muta_event *event, muta_pitch main, const muta_pitch *others,
                       size_t others_count, muta_piece *pieces)
{
    const muta_fraction away = given_away(event->duration);
    const muta_fraction each =
        muta_fraction_divide(away, muta_fraction_of((int64_t)others_count, 1));
    muta_fraction at =
        muta_fraction_add(event->onset, muta_fraction_subtract(event->duration, away));

    pieces[0] = piece(event->onset, muta_fraction_subtract(at, event->onset), main);
    for (size_t i = 0; i < others_count; i++) {
        pieces[i + 1] = piece(at, each, others[i]);
        at = muta_fraction_add(at, each);
    }
    return others_count + 1;
}

/* Neither the tone that comes next nor, before one that is said again, the one that was there. */
static int32_t side_of_neighbour(const struct embellishing *work, const struct site *site)
{
    const int32_t on = steps_between(site->tone, site->next);
    const int32_t back = steps_between(site->tone, site->before);
    const int32_t away = on != 0 ? on : back;

    if (away != 0)
        return away < 0 ? 1 : -1;
    return jitter(work, site->event, MUTA_ORNAMENT_NEIGHBOUR) % 2 ? 1 : -1;
}

/* Figures that lead on to the next tone. */
static size_t lead_on(const struct embellishing *work, const struct site *site,
                      muta_ornament ornament, muta_piece *pieces)
{
    const muta_event *const event = event_of(work, site);
    const muta_sense sense = muta_sense_at(work->call->in, site->tone, event->onset);
    const int32_t on = steps_between(site->tone, site->next);
    const int32_t side = on < 0 ? -1 : 1;
    muta_pitch others[2];

    if (ornament == MUTA_ORNAMENT_PASSING) {
        const size_t count = abs(on) == 3 ? 2 : 1;
        muta_pitch way[] = {site->tone->pitch, muta_sense_step(&sense, site->tone->pitch, side),
                            muta_sense_step(&sense, site->tone->pitch, 2 * side),
                            site->next->pitch};
        way[count + 1] = site->next->pitch;
        muta_sense_smooth(&sense, way, count + 2);
        return end_with(event, site->tone->pitch, way + 1, count, pieces);
    }
    if (ornament == MUTA_ORNAMENT_NEIGHBOUR) {
        others[0] = neighbour(work, site, side_of_neighbour(work, site));
        others[1] = site->tone->pitch;
        return end_with(event, site->tone->pitch, others, on == 0 && site->next ? 1 : 2, pieces);
    }
    others[0] = ornament == MUTA_ORNAMENT_ESCAPE ? neighbour(work, site, -side) : site->next->pitch;
    return end_with(event, site->tone->pitch, others, 1, pieces);
}

static size_t write_out(const struct embellishing *work, const struct site *site,
                        muta_ornament ornament, muta_piece *pieces)
{
    return muta_ornament_row_of(ornament)->leads_on ? lead_on(work, site, ornament, pieces)
                                                    : play(work, site, ornament, pieces);
}

/* ---- where they fit ---- */

/* Whether the step from what is added to the next tone goes in parallel with another line. */
static bool goes_in_parallel(const struct embellishing *work, const struct site *site,
                             const muta_piece *last)
{
    const muta_texture context = muta_passage_context(work->call->in);
    const muta_event *const event = event_of(work, site);
    const muta_fraction end = muta_fraction_add(event->onset, event->duration);

    for (size_t i = 0; site->next && i < context.line_count; i++) {
        int32_t from;
        int32_t to;
        if (muta_line_sounding(&context, &context.lines[i], last->onset, &from) &&
            muta_line_sounding(&context, &context.lines[i], end, &to) &&
            muta_semitones_parallel(muta_pitch_sound(last->pitch) / MUTA_SEMITONE,
                                    sound(site->next), from, to))
            return true;
    }
    return false;
}

/* Whether a tone that it adds stands against what another line has then, or goes on with it. */
static bool rubs(const struct embellishing *work, const struct site *site, muta_ornament ornament)
{
    muta_piece pieces[PIECES];
    const size_t count = write_out(work, site, ornament, pieces);

    for (size_t i = 0; i < count; i++)
        if (!muta_pitch_is_equal(pieces[i].pitch, site->tone->pitch) &&
            muta_passage_rubs(work->call->in, &work->work.lines[site->tone->line], pieces[i].onset,
                              muta_fraction_add(pieces[i].onset, pieces[i].duration),
                              pieces[i].pitch))
            return true;
    return count > 0 && !muta_pitch_is_equal(pieces[count - 1].pitch, site->tone->pitch) &&
           goes_in_parallel(work, site, &pieces[count - 1]);
}

static bool suits(const struct embellishing *work, const struct site *site, muta_ornament ornament)
{
    const muta_ornament_place place = place_of(work, site);

    return muta_ornament_row_of(ornament)->fits(&place) && !rubs(work, site, ornament);
}

static void find_options(const struct embellishing *work, struct site *site)
{
    const muta_ornament_place place = place_of(work, site);

    for (int i = 1; i < MUTA_ORNAMENT_COUNT; i++) {
        const muta_ornament ornament = (muta_ornament)i;
        if (work->wanted[i] && suits(work, site, ornament))
            add_option(site, (struct option){ornament, muta_ornament_merit(ornament, &place) +
                                                           jitter(work, site->event, ornament)});
    }
}

/* A tone before a rest is said, and one that is hammered is meant plain. */
static bool calls_for_one(const struct site *site)
{
    const bool is_hammered = site->next && site->before && sound(site->next) == sound(site->tone) &&
                             sound(site->before) == sound(site->tone);

    return site->next && !is_hammered;
}

static muta_status find_sites(struct embellishing *work, const muta_line *line)
{
    work->sites.count = 0;
    for (uint32_t i = line->event; i < line->event + line->event_count; i++) {
        if (!muta_texture_is_plain(&work->work, i))
            continue;
        struct site *const site = MUTA_PUSH(&work->arena, &work->sites);
        if (!site)
            return MUTA_E_MEMORY;
        *site = (struct site){.event = i,
                              .tone = muta_texture_top(&work->work, i),
                              .next = joined(work, line, i, 1),
                              .before = joined(work, line, i, -1)};
        if (may_bear(work, line, i) && (work->is_asked || calls_for_one(site)))
            find_options(work, site);
    }
    return MUTA_OK;
}

/* ---- the choice: a quota of ornaments, never two in a row ---- */

/* A candidate is how many there are so far, and which option the event takes, 0 for none. */
static uint32_t count(void *context, size_t step)
{
    const struct embellishing *const work = context;

    return (work->quota + 1) * (work->group[step].count + 1);
}

static int64_t price(void *context, size_t step, uint32_t from, uint32_t to)
{
    const struct embellishing *const work = context;
    const uint32_t options = work->group[step].count + 1;
    const uint32_t so_far = to / options;
    const uint32_t option = to % options;
    uint32_t before = 0;
    bool had = false;

    if (from != MUTA_NO_CANDIDATE) {
        const uint32_t others = work->group[step - 1].count + 1;
        before = from / others;
        had = from % others > 0;
    }
    if (so_far != before + (option > 0) || (option > 0 && had))
        return MUTA_FORBIDDEN;
    const int64_t missed =
        step + 1 == work->group_count ? (int64_t)(work->quota - so_far) * SHORT_OF : 0;
    return missed - (option > 0 ? work->group[step].options[option - 1].merit : 0);
}

static uint32_t quota_of(const struct embellishing *work)
{
    const struct args *args = work->call->args;
    int64_t able = 0;

    for (size_t i = 0; i < work->group_count; i++)
        able += work->group[i].count > 0;
    /* Halves are rounded up. */
    const muta_fraction wanted =
        muta_fraction_add(muta_fraction_scale(args->amount, able), muta_fraction_of(1, 2));
    const int64_t whole = wanted.top / wanted.bottom;
    const int64_t most = ((int64_t)work->group_count + 1) / 2;
    return (uint32_t)(whole < most ? whole : most);
}

static muta_status choose_group(struct embellishing *work)
{
    muta_answer *const answers =
        muta_arena_take_array(&work->arena, work->call->pick + 1, sizeof *answers);
    const muta_search search = {work, work->group_count, count, price};
    size_t found;

    if (!answers)
        return MUTA_E_MEMORY;
    work->quota = quota_of(work);
    if (work->quota == 0)
        return MUTA_OK;
    MUTA_TRY(muta_search_best(&work->arena, &search, work->call->pick, answers, &found));
    for (size_t i = 0; found > 0 && i < work->group_count; i++) {
        const struct site *const site = &work->group[i];
        const uint32_t option = answers[found - 1].taken[i] % (site->count + 1);
        if (option > 0)
            work->chosen[site->event] = site->options[option - 1].ornament;
    }
    return MUTA_OK;
}

/* Phrase by phrase, long ones in pieces. */
static muta_status choose(struct embellishing *work)
{
    for (size_t first = 0, next; first < work->sites.count; first = next) {
        const uint16_t phrase = event_of(work, &work->sites.at[first])->phrase;
        for (next = first + 1; next < work->sites.count && next - first < GROUP &&
                               event_of(work, &work->sites.at[next])->phrase == phrase;)
            next++;
        work->group = &work->sites.at[first];
        work->group_count = next - first;
        MUTA_TRY(choose_group(work));
    }
    return MUTA_OK;
}

/* ---- writing ---- */

/* A small note before the tone, above it if the line comes from above, else below. */
static size_t lean(const struct embellishing *work, const struct site *site, muta_ornament ornament,
                   muta_piece *pieces)
{
    const muta_event *const event = event_of(work, site);
    const bool from_below = site->before && sound(site->before) < sound(site->tone);
    const bool is_short = muta_ornament_row_of(ornament)->has_stroke;

    pieces[0] = piece(event->onset, MUTA_ZERO, neighbour(work, site, from_below ? -1 : 1));
    pieces[0].grace = is_short ? MUTA_GRACE_SHORT : MUTA_GRACE_LONG;
    pieces[1] = piece(event->onset, event->duration, site->tone->pitch);
    return 2;
}

/* By how many semitones a neighbour is away from the signature. */
static int8_t away(const struct embellishing *work, const struct site *site, int32_t steps)
{
    const muta_event *const event = event_of(work, site);
    const muta_pitch there = neighbour(work, site, steps);
    const int32_t fifths = muta_passage_fifths_at(work->call->in, site->tone, event->onset);

    return (int8_t)(there.alter / MUTA_SEMITONE - muta_key_sharps(fifths, muta_pitch_step(there)));
}

static muta_status put_sign(struct embellishing *work, const struct site *site,
                            muta_ornament ornament)
{
    const muta_ornament_row *const row = muta_ornament_row_of(ornament);
    const muta_event *const event = event_of(work, site);

    MUTA_TRY(muta_passage_put_event(work->call->out, work->call->in, site->event, event->onset,
                                    event->duration));
    muta_event *const made =
        &muta_passage_events(work->call->out)[muta_passage_work(work->call->out).event_count - 1];
    made->written.ornament = (uint8_t)ornament;
    if (row->uses_above)
        made->written.above = away(work, site, 1);
    if (row->uses_below)
        made->written.below = away(work, site, -1);
    return MUTA_OK;
}

static muta_status put_written_out(struct embellishing *work, const struct site *site,
                                   muta_ornament ornament, bool drops_sign)
{
    const muta_event *const event = event_of(work, site);
    const size_t before = muta_passage_work(work->call->out).event_count;
    muta_piece pieces[PIECES];
    const size_t made = write_out(work, site, ornament, pieces);

    if (made == 0)
        return muta_passage_put_event(work->call->out, work->call->in, site->event, event->onset,
                                      event->duration);
    MUTA_TRY(muta_passage_put_pieces(work->call->out, work->call->in, site->event, pieces, made));
    for (size_t i = before; i < muta_passage_work(work->call->out).event_count; i++)
        muta_passage_events(work->call->out)[i].written.drops_sign = drops_sign;
    return MUTA_OK;
}

static muta_status put_site(struct embellishing *work, const struct site *site)
{
    const struct args *args = work->call->args;
    const muta_event *const event = event_of(work, site);
    const muta_ornament written =
        (muta_ornament)muta_passage_note(work->call->in, site->event)->ornament;
    const muta_ornament ornament = work->chosen[site->event];
    muta_piece pieces[2];

    if (work->writes_out && written && args->as == AS_NOTES)
        return put_written_out(work, site, written, true);
    if (!ornament)
        return muta_passage_put_event(work->call->out, work->call->in, site->event, event->onset,
                                      event->duration);
    if (args->as == AS_SIGNS && muta_ornament_row_of(ornament)->sign)
        return put_sign(work, site, ornament);
    if (args->as == AS_SIGNS && !muta_ornament_row_of(ornament)->leads_on)
        return muta_passage_put_pieces(work->call->out, work->call->in, site->event, pieces,
                                       lean(work, site, ornament, pieces));
    return put_written_out(work, site, ornament, false);
}

/* What comes back is ornamented as it was at first; what cannot be each time is not at all, unless
 * a person asked for it. */
static void return_alike(struct embellishing *work, const muta_line *line)
{
    for (size_t i = 0; i < work->sites.count; i++) {
        const struct site *const site = &work->sites.at[i];
        const uint32_t first = work->first[site->event - line->event];
        const muta_ornament ornament = work->chosen[first];
        const bool fits = ornament && site->count > 0 && suits(work, site, ornament);
        if (work->is_asked)
            work->chosen[site->event] = fits ? ornament : MUTA_ORNAMENT_NONE;
        else if (!fits)
            work->chosen[first] = MUTA_ORNAMENT_NONE;
    }
    for (size_t i = 0; i < work->sites.count && !work->is_asked; i++) {
        const uint32_t event = work->sites.at[i].event;
        work->chosen[event] = work->chosen[work->first[event - line->event]];
    }
}

static muta_status embellish_line(struct embellishing *work, size_t nth)
{
    const muta_line *const line = &work->work.lines[nth];
    size_t site = 0;

    work->line_event = line->event;
    work->is_sung = muta_passage_is_sung(work->call->in, line);
    MUTA_TRY(muta_sense_returns(work->call->in, line, true, &work->arena, &work->first));
    MUTA_TRY(find_sites(work, line));
    MUTA_TRY(choose(work));
    return_alike(work, line);
    MUTA_TRY(muta_passage_begin_line(work->call->out, work->call->in, nth));
    for (uint32_t i = line->event; i < line->event + line->event_count; i++) {
        const muta_event *const event = &work->work.events[i];
        MUTA_TRY(muta_texture_is_plain(&work->work, i)
                     ? put_site(work, &work->sites.at[site++])
                     : muta_passage_put_event(work->call->out, work->call->in, i, event->onset,
                                              event->duration));
    }
    return MUTA_OK;
}

static muta_status embellish(struct embellishing *work)
{
    work->chosen =
        muta_arena_take_array(&work->arena, work->work.event_count + 1, sizeof *work->chosen);
    if (!work->chosen)
        return MUTA_E_MEMORY;
    MUTA_TRY(read_figures(work));
    MUTA_TRY(muta_passage_begin(work->call->out, work->call->in));
    for (size_t i = 0; i < work->work.line_count; i++)
        MUTA_TRY(embellish_line(work, i));
    return MUTA_OK;
}

static muta_status run(const muta_call *call)
{
    struct embellishing work = {.call = call, .work = muta_passage_work(call->in)};
    const muta_status status = embellish(&work);

    muta_arena_clear(&work.arena);
    return status;
}

const muta_pass muta_pass_embellish = {
    .name = "embellish",
    .group = "melody",
    .summary = "ornaments where a player would put them",
    .keeps = "the skeleton and the chords, the last tone of each phrase, how long it all lasts",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_TUNE,
    .needs = MUTA_NEEDS_PITCH | MUTA_NEEDS_STUDY,
    .effect = MUTA_KEEPS_CHORDS | MUTA_DIVIDES_TONES,
    .answer = MUTA_MAY_FIND_NOTHING | MUTA_HAS_NEXT_BEST | MUTA_USES_SEED,
    .run = run,
};
