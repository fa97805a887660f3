package draw

import (
	"strconv"
	"strings"
	"sync"
)

// A small lettering of our own for pictures of dots, because there is none in the standard library: each letter is five
// dots wide, seven high above the baseline and two below it. A line of the table is a letter and its rows from the top,
// each a hexadecimal number whose bits are the dots; rows that are not there are empty.

const lettering = `
! 04 04 04 04 04 00 04
" 0a 0a 0a
# 0a 0a 1f 0a 1f 0a 0a
$ 04 0f 14 0e 05 1e 04
% 18 19 02 04 08 13 03
& 08 14 14 08 15 12 0d
' 04 04 08
( 02 04 08 08 08 04 02
) 08 04 02 02 02 04 08
* 00 04 15 0e 15 04
+ 00 04 04 1f 04 04
, 00 00 00 00 00 0c 04 08
- 00 00 00 1f
. 00 00 00 00 00 0c 0c
/ 01 01 02 04 08 10 10
0 0e 11 13 15 19 11 0e
1 04 0c 04 04 04 04 0e
2 0e 11 01 06 08 10 1f
3 1e 01 01 0e 01 01 1e
4 02 06 0a 12 1f 02 02
5 1f 10 1e 01 01 11 0e
6 06 08 10 1e 11 11 0e
7 1f 01 02 04 04 08 08
8 0e 11 11 0e 11 11 0e
9 0e 11 11 0f 01 02 0c
: 00 0c 0c 00 0c 0c
; 00 0c 0c 00 0c 04 08
< 02 04 08 10 08 04 02
= 00 00 1f 00 1f
> 08 04 02 01 02 04 08
? 0e 11 01 02 04 00 04
@ 0e 11 17 15 17 10 0e
A 0e 11 11 1f 11 11 11
B 1e 11 11 1e 11 11 1e
C 0e 11 10 10 10 11 0e
D 1e 11 11 11 11 11 1e
E 1f 10 10 1e 10 10 1f
F 1f 10 10 1e 10 10 10
G 0e 11 10 17 11 11 0f
H 11 11 11 1f 11 11 11
I 0e 04 04 04 04 04 0e
J 07 02 02 02 02 12 0c
K 11 12 14 18 14 12 11
L 10 10 10 10 10 10 1f
M 11 1b 15 15 11 11 11
N 11 19 15 13 11 11 11
O 0e 11 11 11 11 11 0e
P 1e 11 11 1e 10 10 10
Q 0e 11 11 11 15 12 0d
R 1e 11 11 1e 14 12 11
S 0f 10 10 0e 01 01 1e
T 1f 04 04 04 04 04 04
U 11 11 11 11 11 11 0e
V 11 11 11 11 11 0a 04
W 11 11 11 15 15 1b 11
X 11 11 0a 04 0a 11 11
Y 11 11 0a 04 04 04 04
Z 1f 01 02 04 08 10 1f
[ 0e 08 08 08 08 08 0e
\ 10 10 08 04 02 01 01
] 0e 02 02 02 02 02 0e
^ 04 0a 11
_ 00 00 00 00 00 00 00 1f
` + "` 08 04 02" + `
a 00 00 0e 01 0f 11 0f
b 10 10 1e 11 11 11 1e
c 00 00 0e 11 10 11 0e
d 01 01 0f 11 11 11 0f
e 00 00 0e 11 1f 10 0e
f 06 08 1c 08 08 08 08
g 00 00 0f 11 11 11 0f 01 0e
h 10 10 1e 11 11 11 11
i 04 00 0c 04 04 04 0e
j 02 00 06 02 02 02 02 12 0c
k 10 10 12 14 18 14 12
l 0c 04 04 04 04 04 0e
m 00 00 1a 15 15 15 15
n 00 00 1e 11 11 11 11
o 00 00 0e 11 11 11 0e
p 00 00 1e 11 11 11 1e 10 10
q 00 00 0f 11 11 11 0f 01 01
r 00 00 16 19 10 10 10
s 00 00 0f 10 0e 01 1e
t 08 08 1c 08 08 08 06
u 00 00 11 11 11 11 0f
v 00 00 11 11 11 0a 04
w 00 00 11 11 15 15 0a
x 00 00 11 0a 04 0a 11
y 00 00 11 11 11 11 0f 01 0e
z 00 00 1f 02 04 08 1f
{ 02 04 04 08 04 04 02
| 04 04 04 04 04 04 04 04 04
} 08 04 04 02 04 04 08
~ 00 00 08 15 02
° 06 09 09 06
× 00 11 0a 04 0a 11
– 00 00 00 1f
− 00 00 00 1f
→ 00 04 02 1f 02 04
… 00 00 00 00 00 00 15
µ 00 00 11 11 11 13 1d 10 10
ß 0c 12 12 16 11 11 16
Ä 0a 0e 11 11 1f 11 11
Ö 0a 0e 11 11 11 11 0e
Ü 0a 11 11 11 11 11 0e
à 08 04 0e 01 0f 11 0f
á 02 04 0e 01 0f 11 0f
â 04 0a 0e 01 0f 11 0f
ä 0a 00 0e 01 0f 11 0f
å 04 00 0e 01 0f 11 0f
ç 00 00 0e 11 10 11 0e 04 08
è 08 04 0e 11 1f 10 0e
é 02 04 0e 11 1f 10 0e
ê 04 0a 0e 11 1f 10 0e
ñ 0d 16 1e 11 11 11 11
ó 02 04 0e 11 11 11 0e
ö 0a 00 0e 11 11 11 0e
ú 02 04 11 11 11 11 0f
ü 0a 00 11 11 11 11 0f
`

// unknownLetter is an empty box: a letter that is not there is seen to be missing.
var unknownLetter = []byte{0x1f, 0x11, 0x11, 0x11, 0x11, 0x11, 0x1f}

// letters is the table, read once.
var letters = sync.OnceValue(func() map[rune][]byte {
	table := map[rune][]byte{' ': nil}
	for _, line := range strings.Split(strings.Trim(lettering, "\n"), "\n") {
		letter, rows, _ := strings.Cut(line, " ")
		var dots []byte
		for _, row := range strings.Fields(rows) {
			bits, _ := strconv.ParseUint(row, 16, letterWide) // the tests look at every line
			dots = append(dots, byte(bits))
		}
		table[[]rune(letter)[0]] = dots
	}
	return table
})

// letterOf returns the rows of a letter from the top.
func letterOf(letter rune) []byte {
	if rows, ok := letters()[letter]; ok {
		return rows
	}
	return unknownLetter
}
