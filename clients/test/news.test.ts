// What a page says of what happened to it: every way away and back has its own sentence, and none stands for ever.
import { expect, it } from 'vitest';
import { News } from '../core/news';
import { words } from '../core/words';
import { FakeTime } from './support/fake';

function paper() {
  const time = new FakeTime();
  const told: (string | null)[] = [];
  const news = new News(time, (sentence) => told.push(sentence));
  return { time, told, news };
}

it('says nothing when a page comes up before anything goes', () => {
  const { told, news } = paper();
  news.welcomed('places', 1_000);
  expect(told).toEqual([]);
});

it('says that a call was under way when it came up', () => {
  const { told, news } = paper();
  news.welcomed('running', 1_000);
  expect(told).toEqual([words.newsLoaded('RUNNING')]);
});

it('says how long the link was gone, and where the call stands', () => {
  const { time, told, news } = paper();
  news.welcomed('places', 1_000);
  news.lost();
  time.pass(14_000);
  news.lost();
  news.welcomed('held', 14_001_000);
  expect(told).toEqual([words.newsBack('14 s', 'HELD')]);
});

it('knows a phone that slept from a network that failed', () => {
  const { time, told, news } = paper();
  news.welcomed('running', 1_000);
  news.seen(false);
  time.pass(1_000);
  news.lost();
  time.pass(119_000);
  news.seen(true);
  news.welcomed('stopped', 120_001_000);
  expect(told.at(-1)).toBe(words.newsAsleep('2 min', 'STOPPED'));
});

it('knows a server that was started anew by its clock', () => {
  const { time, told, news } = paper();
  news.welcomed('running', 5_000_000);
  news.server(9_000_000);
  news.lost();
  time.pass(3_000);
  news.welcomed('idle', 700_000);
  expect(told.at(-1)).toBe(words.newsRestarted('3 s'));
});

it('takes a sentence away after a while, but not a newer one', () => {
  const { time, told, news } = paper();
  news.welcomed('running', 1_000);
  time.pass(10_000);
  news.lost();
  time.pass(1_000);
  news.welcomed('running', 11_001_000);
  time.pass(6_000);
  expect(told.at(-1)).not.toBe(null);
  time.pass(10_000);
  expect(told.at(-1)).toBe(null);
});
