/* vec.c: growing arrays. */
#include "base/vec.h"
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum {
    FEW = 48, /* items that are sorted fastest by insertion */
    LARGEST = 256
};

bool muta_vec_grow(muta_arena *arena, void *at, size_t count, size_t *room, size_t more,
                   size_t bytes)
{
    enum {
        FEWEST = 4
    };
    void *items;

    /* Pointers to all kinds of items look alike; this way none is read as one of another kind. */
    memcpy(&items, at, sizeof items);
    if (items && more <= *room - count)
        return true;
    size_t wanted = count + more > *room * 2 ? count + more : *room * 2;
    wanted = wanted < FEWEST ? FEWEST : wanted;
    /* What grows while nothing else is put in leaves no copies of itself behind. */
    if (items && wanted <= SIZE_MAX / bytes &&
        muta_arena_extend(arena, items, *room * bytes, wanted * bytes)) {
        *room = wanted;
        return true;
    }
    void *const grown = muta_arena_take_blank(arena, wanted, bytes);
    if (!grown)
        return false;
    if (items && count > 0)
        memcpy(grown, items, count * bytes);
    memcpy(at, &grown, sizeof grown);
    *room = wanted;
    return true;
}

/* Moves the nth of sorted items down to its place. */
static void insert(char *items, size_t nth, size_t size, int (*compare)(const void *, const void *))
{
    char held[LARGEST];
    size_t to = nth;

    while (to > 0 && compare(items + (to - 1) * size, items + nth * size) > 0)
        to--;
    if (to == nth)
        return;
    memcpy(held, items + nth * size, size);
    memmove(items + (to + 1) * size, items + to * size, (nth - to) * size);
    memcpy(items + to * size, held, size);
}

void muta_sort(void *at, size_t count, size_t size, int (*compare)(const void *, const void *))
{
    char *const items = at;
    size_t next = 1;

    while (next < count && compare(items + (next - 1) * size, items + next * size) <= 0)
        next++;
    if (next < count && (count > FEW || size > LARGEST)) {
        qsort(at, count, size, compare);
        return;
    }
    for (; next < count; next++)
        insert(items, next, size, compare);
}
