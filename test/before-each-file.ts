// Once a process, however many files share it: what a file sets up for itself is run again with each of them.
import './equal-arrays.ts';
