/* corpus.c: finds the scores. */
#include "support/corpus.h"
#include "musicxml/mxl.h"
#include <dirent.h>
#include <locale.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

/* Under a locale that writes 0,5 a number that is read or written by it would show. */
__attribute__((constructor)) static void take_locale(void)
{
    (void)setlocale(LC_ALL, "");
}

void corpus_each(const char *folder, void (*run)(const char *path))
{
    char path[4096];
    const struct dirent *entry;
    DIR *const opened = opendir(folder);

    while (opened && (entry = readdir(opened))) {
        if (entry->d_name[0] == '.')
            continue;
        (void)snprintf(path, sizeof path, "%s/%s", folder, entry->d_name);
        run(path);
    }
    if (opened)
        (void)closedir(opened);
}

const char *corpus_name(const char *path)
{
    const char *const slash = strrchr(path, '/');

    return slash ? slash + 1 : path;
}

static bool is_score(const char *path)
{
    static const char *const ends[] = {".xml", ".musicxml", ".mxl"};
    const size_t length = strlen(path);

    for (size_t i = 0; i < MUTA_LENGTH(ends); i++)
        if (length > strlen(ends[i]) && strcmp(path + length - strlen(ends[i]), ends[i]) == 0)
            return true;
    return false;
}

uint64_t corpus_hash(uint64_t hash, const char *text)
{
    for (; *text; text++)
        hash = (hash ^ (unsigned char)*text) * UINT64_C(1099511628211);
    return hash;
}

char *corpus_file(const char *folder, const char *name)
{
    char path[4096];
    size_t length;

    (void)snprintf(path, sizeof path, "%s/%s", folder, name);
    return corpus_bytes(path, &length);
}

static bool is_chosen(const char *path, bool all)
{
    if (strstr(path, "/fixtures/out/"))
        return false;
    if (all || strstr(path, "/suite/") || strstr(path, "/fixtures/"))
        return true;
    return corpus_hash(CORPUS_HASH, corpus_name(path)) % 10 == 0;
}

static void add(corpus *found, const char *path)
{
    found->paths = realloc(found->paths, (found->count + 1) * sizeof *found->paths);
    found->paths[found->count++] = strdup(path);
}

static void search(corpus *found, const char *folder, bool all)
{
    DIR *const opened = opendir(folder);
    const struct dirent *entry;
    char path[4096];
    struct stat about;

    if (!opened) {
        found->missing++;
        return;
    }
    while ((entry = readdir(opened))) {
        if (entry->d_name[0] == '.')
            continue;
        (void)snprintf(path, sizeof path, "%s/%s", folder, entry->d_name);
        if (stat(path, &about) != 0)
            continue;
        if (S_ISDIR(about.st_mode))
            search(found, path, all);
        else if (is_score(path) && is_chosen(path, all))
            add(found, path);
    }
    (void)closedir(opened);
}

static int by_path(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

corpus corpus_find(bool all)
{
    corpus found = {0};
    const char *const folders = getenv("MUTA_CORPUS");
    char *const copy = strdup(folders ? folders : "");
    char *rest = copy;

    for (char *folder; (folder = strtok_r(rest, ":", &rest));)
        search(&found, folder, all);
    free(copy);
    if (found.count > 0)
        qsort(found.paths, found.count, sizeof *found.paths, by_path);
    return found;
}

void corpus_free(corpus *found)
{
    for (size_t i = 0; i < found->count; i++)
        free(found->paths[i]);
    free(found->paths);
}

char *corpus_bytes(const char *path, size_t *length)
{
    FILE *const file = fopen(path, "rb");
    struct stat about;
    char *bytes = NULL;

    if (!file)
        return NULL;
    if (fstat(fileno(file), &about) == 0 && (bytes = malloc((size_t)about.st_size + 1))) {
        *length = fread(bytes, 1, (size_t)about.st_size, file);
        bytes[*length] = '\0';
    }
    (void)fclose(file);
    return bytes;
}

char *corpus_xml(const char *path, size_t *length)
{
    char *const bytes = corpus_bytes(path, length);
    muta_archive *archive = NULL;
    muta_source source;
    size_t got = 1;
    size_t room = 1 << 20;

    if (!bytes || *length < 4 || memcmp(bytes, "PK\3\4", 4) != 0)
        return bytes;
    if (muta_archive_new(bytes, *length, &archive, NULL) != MUTA_OK)
        return NULL;
    char *xml = malloc(room);
    *length = 0;
    if (muta_archive_open(archive, NULL, &source) != MUTA_OK)
        got = 0;
    while (got > 0) {
        if (room - *length < 65536)
            xml = realloc(xml, room *= 2);
        if (source.read(source.from, xml + *length, room - *length - 1, &got) != MUTA_OK)
            break;
        *length += got;
    }
    xml[*length] = '\0';
    muta_archive_free(archive);
    return xml;
}

uint64_t corpus_random(uint64_t *seed, uint64_t below)
{
    /* Source: splitmix64, S. Vigna, public domain. */
    uint64_t mixed = (*seed += 0x9e3779b97f4a7c15u);

    mixed = (mixed ^ (mixed >> 30)) * 0xbf58476d1ce4e5b9u;
    mixed = (mixed ^ (mixed >> 27)) * 0x94d049bb133111ebu;
    return (mixed ^ (mixed >> 31)) % below;
}

static char *append(char *to, const char *at, size_t length)
{
    memcpy(to, at, length);
    return to + length;
}

void corpus_cut(char *xml, size_t *length, size_t bars)
{
    char *at = xml;

    for (char *part; (part = strstr(at, "<part id="));) {
        char *const end = strstr(part, "</part>");
        size_t count = 0;
        at = part;
        while (end && (at = strstr(at, "<measure ")) && at < end && count++ < bars)
            at++;
        if (!end || !at || at > end) {
            at = part + 1;
            continue;
        }
        memmove(at, end, *length - (size_t)(end - xml) + 1);
        *length -= (size_t)(end - at);
    }
}

char *corpus_grown(const char *xml, size_t length, size_t times)
{
    char *const made = malloc(length * times + 1);
    char *to = made;
    const char *at = xml;

    if (!made)
        abort();
    for (const char *part; (part = strstr(at, "<part id=")); at = strstr(part, "</part>")) {
        const char *const bars = strchr(part, '>') + 1;
        to = append(to, at, (size_t)(bars - at));
        for (size_t i = 0; i < times; i++)
            to = append(to, bars, (size_t)(strstr(bars, "</part>") - bars));
    }
    (void)append(to, at, strlen(at) + 1);
    return made;
}
