/* timbre.c: a playing technique that the instruments have, with its cancel and its playback. */
#include "passes/pass.h"
#include "score/texture.h"
#include "theory/instrument.h"
#include <string.h>

struct args {
    const char *mark;
    const char *palette;
};

static const muta_param params[] = {
    MUTA_ARG_TEXT(struct args, mark,
                  "the technique, as pizzicato; without it the first of the instrument's"),
    MUTA_ARG_TEXT(struct args, palette, "several, commas between them, bar by bar in turn"),
};

static muta_status refuse_name(const muta_call *call, muta_text name)
{
    muta_diag_add(call->diags, MUTA_ERROR, MUTA_NOWHERE,
                  "there is no technique \"%.*s\"; there are pizzicato, col-legno, "
                  "sul-ponticello, sul-tasto, con-sordino, snap-pizzicato, tremolo, "
                  "flutter-tongue, double-tongue, triple-tongue, stopped, una-corda, pedalled",
                  (int)name.length, name.at);
    return MUTA_E_USAGE;
}

/* Gives one part a technique for a while, if its instrument has it. */
static muta_status play(const muta_call *call, uint32_t part, muta_text name, muta_fraction from,
                        muta_fraction to, bool *played)
{
    const char *const part_name = muta_score_part_name(muta_passage_score(call->in), part);
    const muta_place place = {.part = part_name, .beat = {0, 0}};
    muta_instrument instrument;
    muta_technique technique;

    if (name.length > 0 && !muta_technique_find(name, name, &technique))
        return refuse_name(call, name);
    const bool known =
        muta_part_instrument(&muta_passage_score(call->in)->parts[part], &instrument);
    if (!known || !muta_technique_find(name, instrument.family, &technique) ||
        !muta_technique_suits(&technique, instrument.family)) {
        muta_diag_add(call->diags, MUTA_WARNING, place,
                      known ? "its instrument has no such technique and is left out"
                            : "its instrument is not known and is left out");
        return MUTA_OK;
    }
    *played = true;
    return muta_passage_play(call->out, part, &technique, from, to);
}

/* The techniques of a palette in turn, one a bar. */
static muta_status play_palette(const muta_call *call, uint32_t part, const char *palette,
                                bool *played)
{
    muta_text rest = {palette, strlen(palette)};
    muta_text name;

    for (int64_t bar = 1;; bar++) {
        const muta_fraction from = muta_passage_bar(call->in, bar);
        const muta_fraction to = muta_passage_bar(call->in, bar + 1);
        if (muta_fraction_compare(from, to) >= 0)
            return MUTA_OK;
        if (!muta_cell_next(&rest, &name)) {
            rest = (muta_text){palette, strlen(palette)};
            if (!muta_cell_next(&rest, &name))
                return MUTA_OK;
        }
        MUTA_TRY(play(call, part, name, from, to, played));
    }
}

static bool is_first_line_of_part(const muta_texture *work, size_t line)
{
    for (size_t i = 0; i < line; i++)
        if (work->lines[i].part == work->lines[line].part)
            return false;
    return true;
}

static muta_status run(const muta_call *call)
{
    const struct args *args = call->args;
    const muta_text mark = {args->mark ? args->mark : "", args->mark ? strlen(args->mark) : 0};
    const muta_texture work = muta_passage_work(call->in);
    bool played = false;

    MUTA_TRY(muta_passage_append(call->out, call->in, MUTA_ZERO, NULL));
    for (size_t i = 0; i < work.line_count; i++) {
        if (!is_first_line_of_part(&work, i))
            continue;
        MUTA_TRY(args->palette ? play_palette(call, work.lines[i].part, args->palette, &played)
                               : play(call, work.lines[i].part, mark, MUTA_ZERO,
                                      (muta_fraction){0, 0}, &played));
    }
    if (played)
        return MUTA_OK;
    muta_diag_add(call->diags, MUTA_ERROR, MUTA_NOWHERE,
                  "no instrument here has such a technique; name other parts with where=");
    return MUTA_E_DATA;
}

const muta_pass muta_pass_timbre = {
    .name = "timbre",
    .group = "colour",
    .summary = "a playing technique, with its cancel and its playback",
    .keeps = "every tone and its time",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_TUNE,
    .needs = MUTA_NEEDS_PITCH | MUTA_NEEDS_INSTRUMENTS,
    .run = run,
};
