/* fold.c: lines that a pass moved, brought back into their range by octaves. */
#include "passes/pass.h"
#include <inttypes.h>

muta_status muta_fold(const muta_call *call, size_t first, size_t count)
{
    int64_t moved;

    MUTA_TRY(muta_passage_fold(call->out, first, count, &moved));
    if (moved != 0)
        muta_diag_add(call->diags, MUTA_WARNING, MUTA_NOWHERE,
                      "moved %s by %" PRId64 " octave%s, to stay in range",
                      moved > 0 ? "up" : "down", moved > 0 ? moved : -moved,
                      moved == 1 || moved == -1 ? "" : "s");
    return MUTA_OK;
}
