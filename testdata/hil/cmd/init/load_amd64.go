package main

// finitModule is the number of the system call that loads a module from an open file; package syscall lacks it.
const finitModule = 313
