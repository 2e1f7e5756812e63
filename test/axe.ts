import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Page } from 'playwright-core';

const source = readFileSync(join(import.meta.dirname, '../node_modules/axe-core/axe.min.js'), 'utf8');

interface Finding {
  readonly id: string;
  readonly impact: string | null;
  readonly nodes: readonly { readonly html: string; readonly failureSummary?: string }[];
}

/** The rules to which colours matter: all that another theme can break on a page that was found good in one. */
export const BY_COLOUR = { type: 'rule', values: ['color-contrast', 'link-in-text-block'] } as const;

/**
 * Serious and critical faults that axe finds, one a place; only: tags of rules, or rules, all that are on by themselves
 * if absent. It is read into a page once, and asked for nothing but faults: describing all that is right took
 * it a third of its time.
 */
export async function seriousFaults(
  page: Page,
  within = 'html',
  only?: typeof BY_COLOUR | readonly string[],
): Promise<string[]> {
  if (!(await page.evaluate(() => 'axe' in globalThis))) await page.evaluate(source);
  const findings = await page.evaluate(
    async ([selector, options]) => {
      const { axe } = globalThis as unknown as {
        axe: { run(within: unknown, options: unknown): Promise<{ violations: Finding[] }> };
      };
      const part = selector === 'html' ? document : selector;
      return (await axe.run(part, { ...options, resultTypes: ['violations'] })).violations;
    },
    [within, only === undefined ? {} : { runOnly: only }] as const,
  );
  return findings
    .filter(({ impact }) => impact === 'serious' || impact === 'critical')
    .flatMap(({ id, nodes }) => nodes.map((node) => `${id}: ${node.html.slice(0, 160)} ${node.failureSummary ?? ''}`));
}
