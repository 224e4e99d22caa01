/*
 * measure.c COMMAND words...: runs a command with its standard output into a pipe that is read and
 * thrown away, and prints its wall time in milliseconds and its peak memory in bytes.
 */
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static double now(void)
{
    struct timespec time;

    (void)clock_gettime(CLOCK_MONOTONIC, &time);
    return (double)time.tv_sec * 1e3 + (double)time.tv_nsec / 1e6;
}

int main(int count, char **arguments)
{
    static char thrown_away[1 << 16];
    struct rusage usage;
    int ends[2];
    int status;

    if (count < 2 || pipe(ends) != 0)
        return 1;
    const double start = now();
    const pid_t child = fork();
    if (child == 0) {
        (void)dup2(ends[1], STDOUT_FILENO);
        (void)close(ends[0]);
        (void)close(ends[1]);
        (void)execvp(arguments[1], arguments + 1);
        _exit(127);
    }
    (void)close(ends[1]);
    while (read(ends[0], thrown_away, sizeof thrown_away) > 0)
        ;
    if (child < 0 || wait4(child, &status, 0, &usage) < 0 || status != 0)
        return 1;
    printf("%.3f %ld\n", now() - start, usage.ru_maxrss * 1024L);
    return 0;
}
