"""Where does the base go, and how high: places compared over the whole job, alone or several together."""
