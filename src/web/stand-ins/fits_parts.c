/* Parts of CFITSIO that a page has no use for, and which would weigh a tenth of it: the network,
 * its language of expressions, histograms, groups, templates and formats of others. Those of its
 * files that are not asked for are not linked. */
#include <fitsio2.h>
#include <stdlib.h>
#include <string.h>
/* Its own header of groups. */
int fits_path2url(char *inpath, int maxlength, char *outpath, int *status);
int fits_clean_url(char *inURL, char *outURL, int *status);
int fits_get_cwd(char *cwd, int *status);
int fits_relurl2url(char *refURL, char *relURL, char *absURL, int *status);
int zuncompress2mem(char *filename, FILE *diskfile, char **buffptr, size_t *buffsize,
                    void *(*mem_realloc)(void *p, size_t newsize), size_t *filesize, int *status);
#pragma clang diagnostic ignored "-Wunused-parameter"

/* What is asked for without a status. */
#define NOT_OPENED(name, ...)                                                                      \
    int name(__VA_ARGS__)                                                                          \
    {                                                                                              \
        return FILE_NOT_OPENED;                                                                    \
    }
#define REFUSED(name, ...)                                                                         \
    int name(__VA_ARGS__)                                                                          \
    {                                                                                              \
        return *status = *status > 0 ? *status : URL_PARSE_ERROR;                                  \
    }

#define OPENERS(kind)                                                                              \
    NOT_OPENED(kind##_checkfile, char *urltype, char *infile, char *outfile)                       \
    NOT_OPENED(kind##_open, char *filename, int rwmode, int *handle)                               \
    NOT_OPENED(kind##_file_open, char *filename, int rwmode, int *handle)                          \
    NOT_OPENED(kind##_compress_open, char *filename, int rwmode, int *handle)
OPENERS(ftp)
OPENERS(ftps)
OPENERS(http)
OPENERS(https)
NOT_OPENED(root_open, char *filename, int rwmode, int *handle)
NOT_OPENED(root_create, char *filename, int *handle)
NOT_OPENED(root_close, int handle)
NOT_OPENED(root_flush, int handle)
NOT_OPENED(root_getoptions, int *options)
NOT_OPENED(root_getversion, int *version)
NOT_OPENED(root_read, int handle, void *buffer, long nbytes)
NOT_OPENED(root_seek, int handle, LONGLONG offset)
NOT_OPENED(root_setoptions, int options)
NOT_OPENED(root_size, int handle, LONGLONG *filesize)
NOT_OPENED(root_write, int handle, void *buffer, long nbytes)

int root_init(void)
{
    return 0; /* or CFITSIO would not begin at all */
}
int root_shutdown(void)
{
    return 0;
}
void https_set_verbose(int flag)
{
}
void fits_dwnld_prog_bar(int flag)
{
}
int fits_net_timeout(int sec)
{
    return 0;
}

REFUSED(ffcalc, fitsfile *in, char *expr, fitsfile *out, char *name, char *info, int *status)
REFUSED(ffffrw, fitsfile *fptr, char *expr, long *rownum, int *status)
REFUSED(fffrow, fitsfile *in, char *expr, long firstrow, long nrows, long *good, char *row_status,
        int *status)
REFUSED(ffsrow, fitsfile *in, fitsfile *out, char *expr, int *status)
REFUSED(fits_pixel_filter, PixelFilter *filter, int *status)
REFUSED(fits_execute_template, fitsfile *ff, char *name, int *status)
REFUSED(fits_write_keys_histo, fitsfile *fptr, fitsfile *histptr, int naxis, int *colnum,
        int *status)
REFUSED(ffbinse, char *binspec, int *imagetype, int *haxis, char colname[4][FLEN_VALUE],
        double *minin, double *maxin, double *binsizein, char minname[4][FLEN_VALUE],
        char maxname[4][FLEN_VALUE], char binname[4][FLEN_VALUE], double *weight, char *wtname,
        int *recip, char ***exprs, int *status)
REFUSED(ffhist2e, fitsfile **fptr, char *outfile, int imagetype, int naxis,
        char colname[4][FLEN_VALUE], char *colexpr[4], double *minin, double *maxin,
        double *binsizein, char minname[4][FLEN_VALUE], char maxname[4][FLEN_VALUE],
        char binname[4][FLEN_VALUE], double weightin, char wtcol[FLEN_VALUE], char *wtexpr,
        int recip, char *selectrow, int *status)
REFUSED(iraf2mem, char *filename, char **buffptr, size_t *buffsize, size_t *filesize, int *status)
REFUSED(zuncompress2mem, char *filename, FILE *diskfile, char **buffptr, size_t *buffsize,
        void *(*mem_realloc)(void *p, size_t newsize), size_t *filesize, int *status)
REFUSED(fits_relurl2url, char *refURL, char *relURL, char *absURL, int *status)

/* Paths of the page's own memory are plain. */
int fits_path2url(char *inpath, int maxlength, char *outpath, int *status)
{
    if (strlen(inpath) >= (size_t)maxlength) {
        return *status = URL_PARSE_ERROR;
    }
    strcpy(outpath, inpath);
    return *status;
}
int fits_clean_url(char *inURL, char *outURL, int *status)
{
    strcpy(outURL, inURL);
    return *status;
}
int fits_get_cwd(char *cwd, int *status)
{
    strcpy(cwd, "/");
    return *status;
}
