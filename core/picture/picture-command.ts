import { graphText } from './filter-graph.ts';
import { outputArguments, type PictureOutput } from './output-arguments.ts';
import type { PicturePlan } from './picture-plan.ts';

/**
 * FFmpeg's arguments for a plan, without its own name and the target. `drawingPaths`: where the drawings lie, in their
 * order. `-copyts` keeps the containers' own time stamps, on which the plan rests.
 */
export function pictureArguments(plan: PicturePlan, drawingPaths: readonly string[], output: PictureOutput): string[] {
  const { graph, outputs, canvas, rate } = plan;
  const inputs = graph.inputs.flatMap(({ source, options }) => {
    const path = source.kind === 'file' ? source.path : drawingPaths[source.index]!;
    return ['-protocol_whitelist', 'file,pipe', ...options, '-i', `file:${path}`];
  });
  const maps = ['-map', `[${outputs.picture}]`, ...(outputs.sound === null ? [] : ['-map', `[${outputs.sound}]`])];
  return [
    ...['-nostdin', '-loglevel', 'warning', '-nostats', '-copyts'],
    ...inputs,
    ...['-filter_complex', graphText(graph)],
    ...maps,
    ...outputArguments(output, canvas, rate, outputs.sound !== null),
  ];
}

/** The command as a person could type it into a shell of Unix, an input or an option a line. */
export function commandText(ffmpeg: string, args: readonly string[], target: string): string {
  const words = [...args, '-y', `file:${target}`].map(quoted);
  const lines: string[] = [quoted(ffmpeg)];
  for (const word of words) {
    if (/^-[a-z]/.test(word)) lines.push(word);
    else lines[lines.length - 1] += ` ${word}`;
  }
  return lines.join(' \\\n  ');
}

function quoted(word: string): string {
  return /^[\w@%+=:,./-]+$/.test(word) ? word : `'${word.replaceAll("'", `'\\''`)}'`;
}
