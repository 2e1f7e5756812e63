import { existsSync } from 'node:fs';
import { type Command, Option } from 'commander';
import { PartsongError } from '../../core/signal/fault.ts';
import type { AssignRule, NamedVoice } from '../desk/assignment.ts';
import { numberWithin } from './options.ts';

/** What a user may say of which clip is of which voice. */
export interface AssignmentOptions {
  by: 'clip' | 'name' | 'order';
  each?: number;
  voice?: string[];
  apart?: boolean;
}

/** Adds --by, --each, --voice and --apart. usual: the rule without --by. */
export function addAssignment(command: Command, usual: 'clip' | 'name'): Command {
  return command
    .addOption(
      new Option(
        '--by <rule>',
        'which clips are takes of one voice: clip (none), name (alike but for the count), order (see --each)',
      )
        .choices(['clip', 'name', 'order'])
        .default(usual),
    )
    .option(
      '--each <n>',
      'with --by order: so many clips in a row are takes of one voice',
      numberWithin('--each', 1, 100),
    )
    .option(
      '--voice <NAME=CLIP,...>',
      'say by hand which clips are takes of a voice; once for each such voice, the rest goes by --by',
      (text: string, before: string[] = []) => [...before, text],
    )
    .option('--apart', 'where a clip holds several takes one after another, use them as takes of their own');
}

/** What was said of it, checked. Throws PartsongError 'bad-option'. */
export async function assignmentOf(options: AssignmentOptions): Promise<{
  rule: AssignRule;
  byHand: NamedVoice[];
  apart: boolean;
}> {
  const { namedVoice } = await import('../desk/assignment.ts');
  const byHand = (options.voice ?? []).map((text) => namedVoice(text, existsSync));
  return { rule: ruleOf(options), byHand, apart: options.apart === true };
}

function ruleOf({ by, each }: AssignmentOptions): AssignRule {
  if (by !== 'order') return { by };
  if (each !== undefined && Number.isInteger(each)) return { by, each };
  throw new PartsongError(
    'bad-option',
    'With --by order it has to be said how many clips in a row are takes of one voice.',
    'Add --each 2 where there are two takes of each voice.',
  );
}
