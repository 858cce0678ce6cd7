"""How the network that finds the number's line on a card of no known form was made."""
