"""What the program prints, derives and exports, held to the letter: a net under every change of shape."""
