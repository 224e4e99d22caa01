/* mxl.c: containers by minizip, in memory. Entries that are not the score are never inflated. */
#include "musicxml/mxl.h"
#include "musicxml/names.h"
#include "mutanza/limits.h"
#include <minizip/unzip.h>
#include <minizip/zip.h>
#include <stdlib.h>
#include <string.h>

enum {
    PATH_LENGTH = 1024,
    CONTAINER_ROOM = 64 * 1024,
    COPY_ROOM = 32 * 1024
};

static const char container_path[] = "META-INF/container.xml";
static const char media_type[] = "application/vnd.recordare.musicxml";
static const char new_score_path[] = "score.musicxml";
static const char new_container[] = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
                                    "<container>\n"
                                    "  <rootfiles>\n"
                                    "    <rootfile full-path=\"score.musicxml\" "
                                    "media-type=\"application/vnd.recordare.musicxml+xml\"/>\n"
                                    "  </rootfiles>\n"
                                    "</container>\n";

/* A file in memory, as minizip reads and writes it. */
struct memory {
    char *at;
    size_t length;
    size_t room;
    size_t position;
};

struct muta_archive {
    struct memory bytes;
    char score_path[PATH_LENGTH];
    unzFile zip; /* open while the score is read */
    muta_diags *diags;
    bool at_end; /* the score was read whole */
    unsigned long long inflated;
    unsigned long long compressed;
};

static void *memory_open(void *opaque, const void *name, int mode)
{
    struct memory *const memory = opaque;

    (void)name;
    (void)mode;
    memory->position = 0;
    return memory;
}

static uLong memory_read(void *opaque, void *stream, void *to, uLong size)
{
    struct memory *const memory = stream;
    const size_t left = memory->length - memory->position;
    const size_t count = size < left ? size : left;

    (void)opaque;
    if (count > 0)
        memcpy(to, memory->at + memory->position, count);
    memory->position += count;
    return (uLong)count;
}

static uLong memory_write(void *opaque, void *stream, const void *from, uLong size)
{
    struct memory *const memory = stream;

    (void)opaque;
    if (size > memory->room - memory->position) {
        size_t room = memory->room ? memory->room * 2 : COPY_ROOM;
        while (room - memory->position < size)
            room *= 2;
        char *const grown = realloc(memory->at, room);
        if (!grown)
            return 0;
        memory->at = grown;
        memory->room = room;
    }
    memcpy(memory->at + memory->position, from, size);
    memory->position += size;
    if (memory->position > memory->length)
        memory->length = memory->position;
    return size;
}

static ZPOS64_T memory_tell(void *opaque, void *stream)
{
    (void)opaque;
    return ((struct memory *)stream)->position;
}

static long memory_seek(void *opaque, void *stream, ZPOS64_T offset, int origin)
{
    struct memory *const memory = stream;
    const size_t base = origin == ZLIB_FILEFUNC_SEEK_CUR   ? memory->position
                        : origin == ZLIB_FILEFUNC_SEEK_END ? memory->length
                                                           : 0;

    (void)opaque;
    if (offset > memory->length - base)
        return -1;
    memory->position = base + offset;
    return 0;
}

static int memory_close(void *opaque, void *stream)
{
    (void)opaque;
    (void)stream;
    return 0;
}

static zlib_filefunc64_def functions(struct memory *memory)
{
    return (zlib_filefunc64_def){
        .zopen64_file = memory_open,
        .zread_file = memory_read,
        .zwrite_file = memory_write,
        .ztell64_file = memory_tell,
        .zseek64_file = memory_seek,
        .zclose_file = memory_close,
        .zerror_file = memory_close,
        .opaque = memory,
    };
}

static muta_status refuse(muta_diags *diags, const char *why)
{
    muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE, "%s", why);
    return MUTA_E_DATA;
}

static bool ends_with(const char *text, const char *end)
{
    const size_t length = strlen(text);

    return length >= strlen(end) && muta_text_alike(text + length - strlen(end), end);
}

/* Whether an entry's name leads out of the folder it would be unpacked in. */
static bool climbs(const char *path)
{
    return path[0] == '/' || strchr(path, '\\') || strncmp(path, "../", 3) == 0 ||
           strstr(path, "/../") || strcmp(path, "..") == 0 || ends_with(path, "/..");
}

/* Without a container the only score-like entry outside META-INF is taken. */
static muta_status find_only_score(muta_archive *archive, unzFile zip, muta_diags *diags)
{
    char name[PATH_LENGTH];
    size_t found = 0;

    for (int at = unzGoToFirstFile(zip); at == UNZ_OK; at = unzGoToNextFile(zip)) {
        if (unzGetCurrentFileInfo64(zip, NULL, name, sizeof name, NULL, 0, NULL, 0) != UNZ_OK)
            break;
        name[sizeof name - 1] = '\0';
        if (muta_text_begins(name, "META-INF/") ||
            (!ends_with(name, ".xml") && !ends_with(name, ".musicxml")))
            continue;
        memcpy(archive->score_path, name, sizeof name);
        found++;
    }
    if (found != 1)
        return refuse(diags, "the archive has no META-INF/container.xml to tell its score");
    muta_diag_add(diags, MUTA_WARNING, MUTA_NOWHERE,
                  "the archive has no META-INF/container.xml; its only score is read");
    return MUTA_OK;
}

static muta_node find_rootfile(const muta_tree *tree, muta_node node)
{
    if (muta_tree_name(tree, node) == N_ROOTFILE)
        return node;
    for (muta_node child = muta_tree_first(tree, node); child;
         child = muta_tree_next(tree, child)) {
        const muta_node found = find_rootfile(tree, child);
        if (found)
            return found;
    }
    return 0;
}

/* Many copies of one published sample end their XML declaration with `>`; it says nothing here. */
static void skip_declaration(muta_bytes *bytes)
{
    const char *const end = bytes->left > 5 && memcmp(bytes->at, "<?xml", 5) == 0
                                ? memchr(bytes->at, '>', bytes->left)
                                : NULL;
    if (!end || end[-1] == '?')
        return;
    bytes->left -= (size_t)(end + 1 - bytes->at);
    bytes->at = end + 1;
    while (bytes->left > 0 && muta_text_is_blank(bytes->at, 1)) {
        bytes->at++;
        bytes->left--;
    }
}

static muta_status read_container(muta_archive *archive, const char *text, size_t length,
                                  muta_diags *diags)
{
    muta_tree tree;
    muta_bytes bytes = {text, length};
    muta_status status = muta_names_init(&tree);

    skip_declaration(&bytes);
    if (status == MUTA_OK)
        status = muta_parse(muta_source_of_bytes(&bytes), &tree, diags);
    if (status == MUTA_OK) {
        const muta_node rootfile = find_rootfile(&tree, tree.root);
        const char *const path =
            rootfile ? muta_tree_attribute(&tree, rootfile, N_FULL_PATH) : NULL;
        if (!path)
            status = refuse(diags, "META-INF/container.xml names no score");
        else if (strlen(path) >= PATH_LENGTH || climbs(path))
            status = refuse(diags, "META-INF/container.xml names a score outside the archive");
        else
            memcpy(archive->score_path, path, strlen(path) + 1);
    }
    muta_tree_clear(&tree);
    return status;
}

static muta_status find_score(muta_archive *archive, unzFile zip, muta_diags *diags)
{
    char text[CONTAINER_ROOM];
    int got = -1;

    if (unzLocateFile(zip, container_path, 1) != UNZ_OK)
        return find_only_score(archive, zip, diags);
    if (unzOpenCurrentFile(zip) == UNZ_OK) {
        got = unzReadCurrentFile(zip, text, sizeof text);
        (void)unzCloseCurrentFile(zip);
    }
    if (got < 0 || got == (int)sizeof text)
        return refuse(diags, "META-INF/container.xml is damaged or far too long");
    return read_container(archive, text, (size_t)got, diags);
}

muta_status muta_archive_new(char *bytes, size_t length, muta_archive **archive, muta_diags *diags)
{
    muta_archive *const made = calloc(1, sizeof *made);
    unz_global_info64 about;

    if (!made) {
        free(bytes);
        return MUTA_E_MEMORY;
    }
    made->bytes = (struct memory){.at = bytes, .length = length, .room = length};
    zlib_filefunc64_def calls = functions(&made->bytes);
    const unzFile zip = unzOpen2_64("", &calls);
    muta_status status = MUTA_OK;
    if (!zip || unzGetGlobalInfo64(zip, &about) != UNZ_OK)
        status = refuse(diags, "the archive is damaged: its list of entries cannot be read");
    else if (about.number_entry > MUTA_LIMIT_MXL_ENTRIES)
        status = refuse(diags, "the archive has more entries than any score needs");
    else
        status = find_score(made, zip, diags);
    if (zip)
        (void)unzClose(zip);
    if (status != MUTA_OK) {
        muta_archive_free(made);
        return status;
    }
    *archive = made;
    return MUTA_OK;
}

void muta_archive_free(muta_archive *archive)
{
    if (!archive)
        return;
    if (archive->zip)
        (void)unzClose(archive->zip);
    free(archive->bytes.at);
    free(archive);
}

static muta_status read_score(void *from, char *at, size_t room, size_t *got)
{
    muta_archive *const archive = from;
    const int count = archive->at_end ? 0 : unzReadCurrentFile(archive->zip, at, (unsigned)room);

    if (count < 0)
        return refuse(archive->diags, "the archive is damaged: its score does not inflate");
    archive->inflated += (unsigned)count;
    if (archive->inflated > MUTA_LIMIT_RATIO_FROM &&
        archive->inflated / MUTA_LIMIT_RATIO > archive->compressed)
        return refuse(archive->diags, "the archive inflates to far more than any score does");
    if (count == 0 && !archive->at_end && unzCloseCurrentFile(archive->zip) == UNZ_CRCERROR)
        return refuse(archive->diags, "the archive is damaged: its score has the wrong checksum");
    archive->at_end = count == 0;
    *got = (size_t)count;
    return MUTA_OK;
}

muta_status muta_archive_open(muta_archive *archive, muta_diags *diags, muta_source *source)
{
    zlib_filefunc64_def calls = functions(&archive->bytes);
    unz_file_info64 about;

    archive->diags = diags;
    archive->zip = unzOpen2_64("", &calls);
    if (!archive->zip)
        return MUTA_E_MEMORY;
    if (unzLocateFile(archive->zip, archive->score_path, 1) != UNZ_OK ||
        unzGetCurrentFileInfo64(archive->zip, &about, NULL, 0, NULL, 0, NULL, 0) != UNZ_OK)
        return refuse(diags, "the score that META-INF/container.xml names is not in the archive");
    if ((about.flag & 1) || unzOpenCurrentFile(archive->zip) != UNZ_OK)
        return refuse(diags, "the archive's score is encrypted or packed in an unknown way");
    archive->compressed = about.compressed_size;
    archive->inflated = 0;
    archive->at_end = false;
    *source = (muta_source){read_score, archive};
    return MUTA_OK;
}

size_t muta_score_extra_count(const muta_score *score)
{
    char name[PATH_LENGTH];
    size_t count = 0;

    if (!score->archive)
        return 0;
    struct memory bytes = score->archive->bytes;
    zlib_filefunc64_def calls = functions(&bytes);
    const unzFile zip = unzOpen2_64("", &calls);
    for (int at = zip ? unzGoToFirstFile(zip) : UNZ_END_OF_LIST_OF_FILE; at == UNZ_OK;
         at = unzGoToNextFile(zip)) {
        if (unzGetCurrentFileInfo64(zip, NULL, name, sizeof name, NULL, 0, NULL, 0) != UNZ_OK)
            break;
        name[sizeof name - 1] = '\0';
        count += !muta_text_begins(name, "META-INF/") && strcmp(name, "mimetype") != 0 &&
                 strcmp(name, score->archive->score_path) != 0 && !ends_with(name, "/");
    }
    if (zip)
        (void)unzClose(zip);
    return count;
}

static muta_status zip_write(void *to, const char *at, size_t length)
{
    return zipWriteInFileInZip(to, at, (unsigned)length) == ZIP_OK ? MUTA_OK : MUTA_E_MEMORY;
}

/* Entries that are made here all bear the zip format's first moment. */
static const zip_fileinfo no_time = {.tmz_date = {.tm_mday = 1, .tm_year = 1980}};

static muta_status add_score(zipFile zip, const char *path, const muta_tree *tree)
{
    if (zipOpenNewFileInZip64(zip, path, &no_time, NULL, 0, NULL, 0, NULL, Z_DEFLATED,
                              Z_DEFAULT_COMPRESSION, 1) != ZIP_OK)
        return MUTA_E_MEMORY;
    MUTA_TRY(muta_tree_write(tree, (muta_sink){zip_write, zip}, NULL));
    return zipCloseFileInZip(zip) == ZIP_OK ? MUTA_OK : MUTA_E_MEMORY;
}

static muta_status add_text(zipFile zip, const char *path, const char *text, int method)
{
    if (zipOpenNewFileInZip64(zip, path, &no_time, NULL, 0, NULL, 0, NULL, method,
                              Z_DEFAULT_COMPRESSION, 0) != ZIP_OK)
        return MUTA_E_MEMORY;
    MUTA_TRY(zip_write(zip, text, strlen(text)));
    return zipCloseFileInZip(zip) == ZIP_OK ? MUTA_OK : MUTA_E_MEMORY;
}

/* Copies the packed bytes of the entry at which `from` stands. */
static muta_status copy_entry(unzFile from, zipFile to, const char *name,
                              const unz_file_info64 *about)
{
    char piece[COPY_ROOM];
    int method;
    int level;
    int got = 0;
    const zip_fileinfo keep = {.dosDate = about->dosDate,
                               .internal_fa = about->internal_fa,
                               .external_fa = about->external_fa};

    if (unzOpenCurrentFile2(from, &method, &level, 1) != UNZ_OK ||
        zipOpenNewFileInZip2_64(to, name, &keep, NULL, 0, NULL, 0, NULL, method, level, 1,
                                about->uncompressed_size > UINT32_MAX) != ZIP_OK)
        return MUTA_E_DATA;
    while ((got = unzReadCurrentFile(from, piece, sizeof piece)) > 0)
        MUTA_TRY(zip_write(to, piece, (size_t)got));
    (void)unzCloseCurrentFile(from);
    return got == 0 && zipCloseFileInZipRaw64(to, about->uncompressed_size, about->crc) == ZIP_OK
               ? MUTA_OK
               : MUTA_E_DATA;
}

static muta_status copy_entries(const muta_archive *archive, const muta_tree *tree, zipFile to,
                                muta_diags *diags)
{
    struct memory bytes = archive->bytes;
    zlib_filefunc64_def calls = functions(&bytes);
    const unzFile from = unzOpen2_64("", &calls);
    muta_status status = from ? MUTA_OK : MUTA_E_MEMORY;

    for (int at = from ? unzGoToFirstFile(from) : UNZ_OK; status == MUTA_OK && at == UNZ_OK;
         at = unzGoToNextFile(from)) {
        char name[PATH_LENGTH];
        unz_file_info64 about;
        if (unzGetCurrentFileInfo64(from, &about, name, sizeof name, NULL, 0, NULL, 0) != UNZ_OK) {
            status = MUTA_E_DATA;
            break;
        }
        name[sizeof name - 1] = '\0';
        if (strcmp(name, archive->score_path) == 0)
            status = add_score(to, name, tree);
        else if (climbs(name)) /* nobody who unpacks it wants a file outside the folder */
            muta_diag_add(diags, MUTA_WARNING, MUTA_NOWHERE,
                          "an entry that leads out of the archive is left out: %.80s", name);
        else
            status = copy_entry(from, to, name, &about);
        if (status == MUTA_E_DATA)
            muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE,
                          "an entry of the archive is damaged: %.80s; write to plain XML, or "
                          "repack it without",
                          name);
    }
    if (from)
        (void)unzClose(from);
    return status;
}

muta_status muta_archive_write(const muta_archive *archive, const muta_tree *tree, char **at,
                               size_t *length, muta_diags *diags)
{
    struct memory memory = {0};
    zlib_filefunc64_def calls = functions(&memory);
    const zipFile zip = zipOpen2_64("", APPEND_STATUS_CREATE, NULL, &calls);
    muta_status status = MUTA_OK;

    if (!zip)
        return MUTA_E_MEMORY;
    if (archive) {
        status = copy_entries(archive, tree, zip, diags);
    } else {
        status = add_text(zip, "mimetype", media_type, 0);
        if (status == MUTA_OK)
            status = add_text(zip, container_path, new_container, Z_DEFLATED);
        if (status == MUTA_OK)
            status = add_score(zip, new_score_path, tree);
    }
    if (zipClose(zip, NULL) != ZIP_OK && status == MUTA_OK)
        status = MUTA_E_MEMORY;
    if (status != MUTA_OK) {
        free(memory.at);
        return status;
    }
    *at = memory.at;
    *length = memory.length;
    return MUTA_OK;
}
