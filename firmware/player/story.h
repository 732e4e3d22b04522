/* What the player does, made by `nudgeproof stimulus`. Make it anew instead of changing it.
 *
 * The pins in player.ino stand in this order:
 *   0  supply
 *   1  pad
 */
#define STORY_LINES 2
#define STORY_ROUNDS 1u
static const struct Row STORY[] STORY_PLACE = {
  /* example.csv, 8 s */
  {800000u, 0x81}, /* it begins */
  {150u, 0x83}, /* pad closes */
  {250u, 0x81}, /* pad opens */
  {1999600u, 0x83}, /* pad closes */
  {200000u, 0x81}, /* pad opens */
  {200000u, 0x83}, /* pad closes */
  {150000u, 0x81}, /* pad opens */
  {200000u, 0x83}, /* pad closes */
  {950000u, 0x81}, /* pad opens */
  {30000u, 0x80}, /* the cell is gone */
  {1470000u, 0x81}, /* the cell is there */
  {200000u, 0x83}, /* pad closes */
  {1800000u, 0x81}, /* pad opens */
  {3000000u, 0x00}, /* it ends */
};
