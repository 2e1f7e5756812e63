/* What an asker sends to a keeper: this head, with the open files and last the working folder beside it, then argc + envc texts, each ended by 0. */
enum { MOST_FILES = 16 };

struct request {
  int argc, envc, bytes;
  /* How many open files come along, the folder not counted, and the numbers they have for the asker. */
  int files, numbers[MOST_FILES];
};
