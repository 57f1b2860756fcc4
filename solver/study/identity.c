#include "solver/study/identity.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/version.h"

/* A text with its end, so that two texts in a row cannot be taken for two others. */
static void add_text(struct digest *digest, const char *text)
{
    digest_add(digest, text, strlen(text) + 1);
}

static enum status add_file(struct digest *digest, const char *path, struct errors *errors)
{
    unsigned char block[4096], sum[DIGEST_BYTES];
    struct digest content;
    FILE *stream = fopen(path, "rb");
    if (!stream)
        return errors_add(errors, STATUS_FILE, path, 0, 0, "cannot be read: %s", strerror(errno));
    digest_begin(&content);
    for (size_t got; (got = fread(block, 1, sizeof block, stream)) > 0;)
        digest_add(&content, block, got);
    int reason = ferror(stream) ? errno : 0;
    fclose(stream);
    if (reason)
        return errors_add(errors, STATUS_FILE, path, 0, 0, "cannot be read: %s", strerror(reason));
    digest_end(&content, sum);
    digest_add(digest, sum, sizeof sum);
    return STATUS_OK;
}

static enum status add_foams(struct digest *digest, const struct resolver *resolver, struct errors *errors)
{
    enum status status = STATUS_OK;
    for (size_t i = 0; i < resolver->registry.count && status == STATUS_OK; i++)
        status = add_file(digest, resolver->registry.materials[i].file, errors);
    for (size_t i = 0; i < resolver->file->foam_count && status == STATUS_OK; i++) {
        const struct case_foam *foam = &resolver->file->foams[i];
        for (size_t k = 0; k < foam->curve_count && status == STATUS_OK; k++)
            status = add_file(digest, foam->curve_file[k], errors);
    }
    return status;
}

static void add_headform(struct digest *digest, const struct case_headform *headform)
{
    const double numbers[] = {headform->mass, headform->circumference, headform->radius,
                              (double)headform->sphere};
    digest_add(digest, numbers, sizeof numbers);
    digest_add(digest, headform->half_axes, sizeof headform->half_axes);
    digest_add(digest, headform->cg_offset, sizeof headform->cg_offset);
    digest_add(digest, headform->inertia, sizeof headform->inertia);
    add_text(digest, headform->provenance);
    add_text(digest, headform->skin);
}

enum status identity_make(const struct resolver *resolver, const char *model, struct identity *identity,
                          struct errors *errors)
{
    struct digest *digest = &identity->shared;
    digest_begin(digest);
    add_text(digest, "foampulse point 1");
    add_text(digest, FOAMPULSE_VERSION);
    add_text(digest, version_sources);
    add_text(digest, __VERSION__);
    add_text(digest, model);
    add_headform(digest, &resolver->file->headform);
    enum status status = add_foams(digest, resolver, errors);
    if (status == STATUS_OK && resolver->shells.file)
        status = add_file(digest, resolver->shells.file, errors);
    return status;
}

void identity_text(const unsigned char hash[DIGEST_BYTES], char text[IDENTITY_TEXT])
{
    for (int i = 0; i < (IDENTITY_TEXT - 1) / 2; i++)
        snprintf(text + 2 * i, 3, "%02x", hash[i]);
}

void identity_point(const struct identity *identity, const char *text, uint64_t index,
                    unsigned char hash[DIGEST_BYTES])
{
    struct digest digest = identity->shared;
    char number[24];
    snprintf(number, sizeof number, "%llu", (unsigned long long)index);
    add_text(&digest, text);
    add_text(&digest, number);
    digest_end(&digest, hash);
}
