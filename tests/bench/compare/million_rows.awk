# A run log of a million rows, for timing only; invented.
BEGIN {
  print "# base-distance: 60 ft"
  print "date,player,course,trial,timer,first,second,third,home,flag,note"
  for (i = 0; i < 1000000; ++i) {
    s = (i * 7919) % 97 / 100
    printf "2026-%02d-%02d,%d,circuit,%d,AK,%.2f,%.2f,%.2f,%.2f,,\n", 4 + i % 4, 1 + int(i / 4) % 28, int(i / 112) % 5000 + 1, 1 + int(i / 560000), 4 + s, 8 + s * 1.3, 12 + s * 1.6, 16 + s * 2
  }
}
