/* crew.c: two threads at one work. */
#include "base/crew.h"
#include <pthread.h>

struct second {
    void (*work)(void *context, bool is_beside);
    void *context;
};

static void *run(void *of)
{
    const struct second *const second = of;

    second->work(second->context, true);
    return NULL;
}

void muta_crew_run(void (*work)(void *context, bool is_beside), void *context)
{
    struct second second = {work, context};
    pthread_t thread;
    const bool has_thread = pthread_create(&thread, NULL, run, &second) == 0;

    work(context, false);
    if (has_thread)
        (void)pthread_join(thread, NULL);
    else
        work(context, true);
}
