/*
 * Stands under a program's name and asks its keeper to run it, with what it was given itself: arguments, surroundings, working folder, open files. Passes
 * signals on, and ends as the program ends, by a signal too. Where no keeper answers it becomes the program (PROGRAM, its path). The keeper listens at
 * the asker's own path with `.sock` behind.
 */
#define _GNU_SOURCE
#include "request.h"
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <unistd.h>

extern char **environ;
static pid_t pid;

static void pass_on(int number) { kill(pid, number); }

/* A line to the keeper, else -1. */
static int reach(void) {
  struct sockaddr_un address = { .sun_family = AF_UNIX };
  ssize_t length = readlink("/proc/self/exe", address.sun_path, sizeof address.sun_path - sizeof ".sock");
  if (length < 0) return -1;
  strcpy(address.sun_path + length, ".sock");
  int line = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
  return connect(line, (struct sockaddr *)&address, sizeof address) == 0 ? line : -1;
}

static int send_whole(int line, const char *from, int bytes) {
  while (bytes > 0) {
    ssize_t sent = send(line, from, bytes, MSG_NOSIGNAL);
    if (sent <= 0) return 0;
    from += sent;
    bytes -= sent;
  }
  return 1;
}

/* Sends the request; 1 when the program was started. */
static int ask(int line, int argc, char **argv, struct request *request) {
  int files[MOST_FILES + 1];
  *request = (struct request){ .argc = argc };
  for (char **word = argv; *word != NULL; word++) request->bytes += strlen(*word) + 1;
  for (char **word = environ; *word != NULL; word++, request->envc++) request->bytes += strlen(*word) + 1;
  for (int fd = 0; fd < 64 && request->files < MOST_FILES; fd++) {
    int flags = fcntl(fd, F_GETFD);
    if (flags < 0 || (flags & FD_CLOEXEC)) continue;
    request->numbers[request->files] = fd;
    files[request->files++] = fd;
  }
  files[request->files] = open(".", O_PATH | O_DIRECTORY | O_CLOEXEC);
  size_t given = sizeof(int) * (request->files + 1);
  char room[CMSG_SPACE(sizeof files)] = { 0 };
  struct iovec piece = { request, sizeof *request };
  struct msghdr message = { .msg_iov = &piece, .msg_iovlen = 1, .msg_control = room, .msg_controllen = CMSG_SPACE(given) };
  struct cmsghdr *beside = CMSG_FIRSTHDR(&message);
  beside->cmsg_level = SOL_SOCKET;
  beside->cmsg_type = SCM_RIGHTS;
  beside->cmsg_len = CMSG_LEN(given);
  memcpy(CMSG_DATA(beside), files, given);
  if (sendmsg(line, &message, MSG_NOSIGNAL) != sizeof *request) return 0;
  char *text = malloc(request->bytes), *at = text;
  for (char **word = argv; *word != NULL; word++) at = stpcpy(at, *word) + 1;
  for (char **word = environ; *word != NULL; word++) at = stpcpy(at, *word) + 1;
  return send_whole(line, text, request->bytes) && read(line, &pid, sizeof pid) == sizeof pid;
}

int main(int argc, char **argv) {
  struct request request;
  int line = reach(), status;
  if (line < 0 || !ask(line, argc, argv, &request)) {
    execv(PROGRAM, argv);
    return 127;
  }
  const int signals[] = { SIGTERM, SIGINT, SIGHUP, SIGQUIT, SIGUSR1, SIGUSR2, SIGCONT };
  for (size_t n = 0; n < sizeof signals / sizeof *signals; n++) signal(signals[n], pass_on);
  /* A pipe breaks when the program is gone, not when its asker is. */
  for (int n = 0; n < request.files; n++) close(request.numbers[n]);
  ssize_t got;
  do got = read(line, &status, sizeof status);
  while (got < 0 && errno == EINTR);
  if (got != sizeof status) return 127;
  if (WIFSIGNALED(status)) {
    setrlimit(RLIMIT_CORE, &(struct rlimit){ 0, 0 });
    signal(WTERMSIG(status), SIG_DFL);
    kill(getpid(), WTERMSIG(status));
  }
  return WEXITSTATUS(status);
}
