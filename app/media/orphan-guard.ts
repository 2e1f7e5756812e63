import { type ChildProcess, spawn } from 'node:child_process';

/**
 * Reads lines "+ PID" and "- PID"; when there is nothing more to read, whoever wrote them is gone, and what is still on the list is killed.
 * What a terminal sends to all of its programs is for Partsong and FFmpeg to obey, not for the one that watches.
 */
const WATCH = `trap '' INT HUP TERM
pids=
while read -r sign pid; do
  case $sign in
    +) pids="$pids $pid" ;;
    -) left=
       for one in $pids; do [ "$one" = "$pid" ] || left="$left $one"; done
       pids=$left ;;
  esac
done
[ -z "$pids" ] || kill -9 $pids 2>/dev/null`;

let watcher: ChildProcess | undefined;

/** Starts what watches over us, so that a process started next need not wait for it: we could die meanwhile. */
export function watchOverUs(): void {
  if (process.platform !== 'win32') watcher ??= startWatcher();
}

/**
 * Sees to it that a process of ours ends when we die, by whatever cause: without it FFmpeg runs on to the end of its clip, since it stops at
 * the end of its standard input only where it reads sound from there. A shell of its own watches a pipe that breaks when we are gone (one for
 * each thread that starts processes, so that theirs end with a thread that is ended by force). On Windows the system does it:
 * there Node's children are in a job that is closed with their parent (libuv, src/win/process.c). Where there is no shell, nothing watches.
 */
export function endWithUs(child: ChildProcess): void {
  const { pid } = child;
  if (process.platform === 'win32' || pid === undefined) return;
  tell(`+ ${pid}`);
  child.once('exit', () => tell(`- ${pid}`));
}

function tell(line: string): void {
  watchOverUs();
  watcher?.stdin?.write(`${line}\n`);
}

function startWatcher(): ChildProcess {
  const shell = spawn('/bin/sh', ['-c', WATCH], { stdio: ['pipe', 'ignore', 'ignore'], cwd: '/' });
  shell.on('error', () => undefined);
  shell.stdin.on('error', () => undefined);
  // It ends when we do, and must not keep us.
  shell.unref();
  (shell.stdin as { unref?: () => void }).unref?.();
  return shell;
}
