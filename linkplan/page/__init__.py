"""The local page: shows the decisions of the other rooms in a browser of this machine; holds no physics."""
