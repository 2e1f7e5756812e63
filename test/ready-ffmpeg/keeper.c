/*
 * Keeps a program loaded and linked, and runs it for whoever asks: a library that is loaded before the program (LD_PRELOAD) and takes the
 * place of its start. Linking Debian's FFmpeg to its 216 libraries takes 0.12 to 0.19 s of processor time a start; a fork of one that is linked, 0.012 s.
 * In: READY_SOCKET, where to listen; requests as in request.h. Answers each with the number of the process, and at its end with its wait status.
 * A process whose asker is gone is killed. It ends when its standard input does.
 */
#define _GNU_SOURCE
#include "request.h"
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/signalfd.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <unistd.h>

enum { MOST_RUNS = 256, ABOVE_ALL_NUMBERS = 100 };
typedef int program_main(int, char **, char **);

extern char **environ;
static program_main *program;
static int listener, child_ends;
/* What runs: pid 0, nothing; line -1, its asker is gone. */
static struct { pid_t pid; int line; } runs[MOST_RUNS];

static int read_whole(int line, char *to, int bytes) {
  while (bytes > 0) {
    ssize_t got = read(line, to, bytes);
    if (got < 0 && errno == EINTR) continue;
    if (got <= 0) return 0;
    to += got;
    bytes -= got;
  }
  return 1;
}

/* In the new process: as if the asker itself had become the program. */
static void become(const struct request *request, int *files, char **words) {
  sigset_t none;
  sigemptyset(&none);
  sigprocmask(SIG_SETMASK, &none, NULL);
  if (fchdir(files[request->files]) != 0) _exit(126);
  /* First out of the way of the numbers that they get. */
  for (int n = 0; n < request->files; n++) {
    int low = files[n];
    files[n] = fcntl(low, F_DUPFD_CLOEXEC, ABOVE_ALL_NUMBERS);
    close(low);
  }
  for (int fd = 3; fd < ABOVE_ALL_NUMBERS; fd++) close(fd);
  for (int n = 0; n < request->files; n++) {
    dup2(files[n], request->numbers[n]);
    close(files[n]);
  }
  environ = words + request->argc + 1;
  exit(program(request->argc, words, environ));
}

static int start(const struct request *request, int *files, int line) {
  int run = 0;
  while (run < MOST_RUNS && runs[run].pid != 0) run++;
  if (run == MOST_RUNS) return 0;
  char *text = malloc(request->bytes), *at = text;
  char **words = malloc(sizeof(char *) * (request->argc + request->envc + 2)), **word = words;
  pid_t pid = -1;
  if (read_whole(line, text, request->bytes)) {
    for (int n = 0; n < request->argc; n++, at += strlen(at) + 1) *word++ = at;
    *word++ = NULL;
    for (int n = 0; n < request->envc; n++, at += strlen(at) + 1) *word++ = at;
    *word = NULL;
    pid = fork();
    if (pid == 0) become(request, files, words);
  }
  free(text);
  free(words);
  if (pid < 0) return 0;
  runs[run].pid = pid;
  runs[run].line = line;
  send(line, &pid, sizeof pid, MSG_NOSIGNAL);
  return 1;
}

static void answer(void) {
  int line = accept4(listener, NULL, NULL, SOCK_CLOEXEC), files[MOST_FILES + 1], count = 0, isStarted = 0;
  if (line < 0) return;
  struct request request;
  char room[CMSG_SPACE(sizeof files)];
  struct iovec piece = { &request, sizeof request };
  struct msghdr message = { .msg_iov = &piece, .msg_iovlen = 1, .msg_control = room, .msg_controllen = sizeof room };
  if (recvmsg(line, &message, MSG_CMSG_CLOEXEC | MSG_WAITALL) == sizeof request) {
    struct cmsghdr *given = CMSG_FIRSTHDR(&message);
    if (given != NULL) count = (given->cmsg_len - CMSG_LEN(0)) / sizeof(int);
    if (count > 0) memcpy(files, CMSG_DATA(given), count * sizeof(int));
    if (count == request.files + 1) isStarted = start(&request, files, line);
  }
  for (int n = 0; n < count; n++) close(files[n]);
  if (!isStarted) close(line);
}

static void bury(void) {
  struct signalfd_siginfo told;
  int status;
  if (read(child_ends, &told, sizeof told) < 0) return;
  for (pid_t pid; (pid = waitpid(-1, &status, WNOHANG)) > 0;) {
    for (int run = 0; run < MOST_RUNS; run++) {
      if (runs[run].pid != pid) continue;
      if (runs[run].line >= 0) {
        send(runs[run].line, &status, sizeof status, MSG_NOSIGNAL);
        close(runs[run].line);
      }
      runs[run].pid = 0;
    }
  }
}

/* An asker says nothing more: whatever comes is its end. */
static void leave(int run) {
  kill(runs[run].pid, SIGKILL);
  close(runs[run].line);
  runs[run].line = -1;
}

static int keep(int argc, char **argv, char **env) {
  (void)argc, (void)argv, (void)env;
  struct sockaddr_un address = { .sun_family = AF_UNIX };
  strncpy(address.sun_path, getenv("READY_SOCKET"), sizeof address.sun_path - 1);
  listener = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
  if (bind(listener, (struct sockaddr *)&address, sizeof address) != 0 || listen(listener, 64) != 0) return 1;
  sigset_t ends;
  sigemptyset(&ends);
  sigaddset(&ends, SIGCHLD);
  sigprocmask(SIG_BLOCK, &ends, NULL);
  child_ends = signalfd(-1, &ends, SFD_CLOEXEC);
  for (;;) {
    struct pollfd watched[3 + MOST_RUNS] = { { 0, POLLIN, 0 }, { listener, POLLIN, 0 }, { child_ends, POLLIN, 0 } };
    /* A number below 0 is not looked at. */
    for (int run = 0; run < MOST_RUNS; run++)
      watched[3 + run] = (struct pollfd){ runs[run].pid == 0 ? -1 : runs[run].line, POLLIN, 0 };
    if (poll(watched, 3 + MOST_RUNS, -1) < 0) continue;
    char byte;
    if (watched[0].revents && read(0, &byte, 1) <= 0) return 0;
    for (int run = 0; run < MOST_RUNS; run++)
      if (watched[3 + run].revents) leave(run);
    if (watched[2].revents) bury();
    if (watched[1].revents) answer();
  }
}

/* The C library calls the program's main through this. */
int __libc_start_main(program_main *given, int argc, char **argv, void *init, void *fini, void *rtld_fini, void *stack) {
  int (*real)(program_main *, int, char **, void *, void *, void *, void *) = dlsym(RTLD_NEXT, "__libc_start_main");
  program = given;
  return real(keep, argc, argv, init, fini, rtld_fini, stack);
}
