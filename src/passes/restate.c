/* restate.c: how far, and which way, a piece is stated again. */
#include "passes/restate.h"
#include "mutanza/limits.h"
#include "score/texture.h"
#include <inttypes.h>

/* How many statements stay in the range, the first included. */
static int64_t count_reached(const muta_call *call, muta_interval by, int64_t times)
{
    int64_t count = 1;

    while (count < times && muta_passage_reaches(call->in, by, count))
        count++;
    return count;
}

muta_status muta_way_find(const muta_call *call, muta_interval by, int64_t times, muta_way *way)
{
    const muta_interval back = muta_interval_negate(by);
    const int64_t there = count_reached(call, by, times);
    const int64_t other = there < times ? count_reached(call, back, times) : 0;

    *way = other > there ? (muta_way){back, other} : (muta_way){by, there};
    if (way->times == 1 && times > 1) {
        muta_diag_add(call->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "a second statement would leave the range either way; move by less, or take "
                      "less of it");
        return MUTA_E_DATA;
    }
    if (other > there)
        muta_diag_add(call->diags, MUTA_WARNING, MUTA_NOWHERE,
                      "the statements go %s, for the range ends the other way",
                      back.size > 0 || (back.size == 0 && back.steps > 0) ? "up" : "down");
    if (way->times < times)
        muta_diag_add(call->diags, MUTA_WARNING, MUTA_NOWHERE,
                      "it stops after %" PRId64 " statements, before it leaves the range",
                      way->times);
    return MUTA_OK;
}

muta_status muta_way_move(const muta_call *call, const muta_way *way, int64_t nth, muta_kind kind,
                          muta_tones *stated)
{
    muta_interval by = {(int32_t)(way->by.steps * nth), (int32_t)(way->by.size * nth)};

    for (size_t i = 0; i < stated->count; i++) {
        const int32_t fifths =
            muta_passage_fifths(call->out, &stated->at[i]) + muta_interval_fifths(by);
        /* Twelve fifths up is the same sound a step lower. */
        if (kind == MUTA_REAL && nth > 0 && fifths > MUTA_LIMIT_FIFTHS)
            by.steps++;
        else if (kind == MUTA_REAL && nth > 0 && fifths < -MUTA_LIMIT_FIFTHS)
            by.steps--;
        MUTA_TRY(muta_passage_move(call->out, &stated->at[i], by, 1, kind));
        muta_statement *const statement =
            &call->out->map.at[call->out->work.events.at[stated->at[i].event].written.statement];
        statement->moved = by;
        statement->is_tonal = kind == MUTA_TONAL;
    }
    return MUTA_OK;
}
