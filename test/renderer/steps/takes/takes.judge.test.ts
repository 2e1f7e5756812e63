import { describe, expect, it } from 'vitest';
import { seriousFaults } from '../../../axe.ts';
import { type StandInScreen, standInScreen } from '../../../stand-in/stand-in-screen.ts';

let screen: StandInScreen;

standInScreen((begun) => {
  screen = begun;
});

describe('clips whose names do not tell the voice', () => {
  it('are given to voices by hand, heard before, in one step of undo; the choice outlasts a look at another bench', async () => {
    const page = await screen.open('voices=3&quiet');
    page.setDefaultTimeout(30_000);
    const step = (name: string) => page.getByLabel('Running order').getByText(name, { exact: true }).click();
    await step('Takes');
    await page.getByRole('button', { name: /^Give clips to voices/ }).click();
    const part = page.getByRole('region', { name: 'Which clips are of which voice' });
    await part.getByRole('radio', { name: 'by hand' }).check();
    await part
      .getByRole('button', { name: /^Listen to .* alone/ })
      .first()
      .waitFor();
    const choice = part.getByRole('combobox').nth(2);
    const first = await part.getByRole('combobox').first().inputValue();
    await choice.selectOption(first);
    expect(await seriousFaults(page, '.arrival')).toEqual([]);
    await step('Clean');
    await step('Takes');
    expect(await choice.inputValue()).toBe(first);
    const names = page.getByRole('textbox', { name: /^Name of voice/ });
    expect(await names.count()).toBe(3);
    await part.getByRole('button', { name: 'Use this', exact: true }).click();
    await expect.poll(() => names.count()).toBe(2);
    // Its voice, which has lost its only take, is gone with it; the other voice has two to choose from.
    expect(await page.locator('.takes-sounds input').count()).toBe(3);
    await page.getByRole('button', { name: /^Undo/ }).first().click();
    await expect.poll(() => names.count()).toBe(3);
  }, 180_000);
});
