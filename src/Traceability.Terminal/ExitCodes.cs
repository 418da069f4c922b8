namespace Traceability.Terminal;

/// <summary>What the program ends with; scripts branch on it. Listed in docs/how-to/send-facts.md.</summary>
internal static class ExitCodes
{
    /// <summary>Done: recorded by the service, or answered; for may-start: go.</summary>
    public const int Done = 0;

    /// <summary>Something that the program was not made for.</summary>
    public const int Unexpected = 1;

    /// <summary>What was typed, or the file, is not understood. Nothing was stored.</summary>
    public const int NotUnderstood = 2;

    /// <summary>The service refused: the fact waits for a decision among the refused, or the question can't be answered.</summary>
    public const int Refused = 3;

    /// <summary>Stored on this machine and not yet acknowledged by the service.</summary>
    public const int StoredOnly = 4;

    /// <summary>The outbox can't be used: in use by another process, full, or the disk fails. Nothing was stored.</summary>
    public const int NotStored = 5;

    /// <summary>The service gave no answer to a question.</summary>
    public const int Unreachable = 6;

    /// <summary>may-start: wait.</summary>
    public const int Wait = 7;

    /// <summary>may-start: no.</summary>
    public const int No = 8;

    /// <summary>Answered, but the answer may be incomplete: the remarks, which come first, say why. Not to be taken for the whole.</summary>
    public const int Incomplete = 9;
}
