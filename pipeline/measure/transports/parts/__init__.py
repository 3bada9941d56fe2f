"""Parts with a life: how long they last, how they fail, and what is left on those in use."""
