/* vec.c: growing arrays. */
#include "base/vec.h"
#include <string.h>

void *muta_vec_grow(muta_arena *arena, void *at, size_t count, size_t *room, size_t more,
                    size_t bytes)
{
    enum {
        FEWEST = 4
    };

    if (at && more <= *room - count)
        return at;
    size_t wanted = count + more > *room * 2 ? count + more : *room * 2;
    wanted = wanted < FEWEST ? FEWEST : wanted;
    void *const grown = muta_arena_take_array(arena, wanted, bytes);
    if (grown && at && count > 0)
        memcpy(grown, at, count * bytes);
    *room = grown ? wanted : 0;
    return grown;
}
