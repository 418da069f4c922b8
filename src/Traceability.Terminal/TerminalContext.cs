using System.Text.Json;
using Spectre.Console;
using Traceability.Client;
using Traceability.Client.Outbox;
using Traceability.Contracts;

namespace Traceability.Terminal;

/// <summary>What the program has to do with outside: the streams, the environment, the clock.</summary>
internal sealed class TerminalContext(TextReader input, TextWriter output, TextWriter errors, Func<string, string?> environment, TimeProvider time)
{
    /// <summary>Name of the variable that holds the access key.</summary>
    public const string KeyVariable = "TRACEABILITY_KEY";

    public TimeProvider Time { get; } = time;

    /// <summary>Where a person reads; without colour and cursor where the output is no terminal.</summary>
    public IAnsiConsole Screen { get; } = NewScreen(output);

    public string? Variable(string name) => environment(name) is { Length: > 0 } text ? text : null;

    /// <summary>Gets whether something is there to be read without a person typing it: a file or a program at standard input.</summary>
    public bool HasInput => Console.IsInputRedirected || !ReferenceEquals(input, Console.In);

    /// <summary>Reads a file, or standard input where none is named.</summary>
    public Task<string> ReadAsync(string? file, CancellationToken cancellation) =>
        file is null ? input.ReadToEndAsync(cancellation)
        : File.Exists(file) ? File.ReadAllTextAsync(file, cancellation)
        : throw new NotUnderstoodException($"There is no file {file}.");

    /// <summary>Writes an answer for a script: one JSON document.</summary>
    public void WriteJson<T>(T answer) => output.WriteLine(JsonSerializer.Serialize(answer, WireJson.Options));

    /// <summary>Writes a line of an answer for a person, as long as it is.</summary>
    public void Show(string line) => output.WriteLine(line);

    /// <summary>Says something to the person that is no answer.</summary>
    public void Say(string text) => errors.WriteLine(text);

    /// <summary>The access key: from the environment, or from a file that only its owner may read; never from the command line, which others see.</summary>
    public string Key(string? file)
    {
        if (file is null)
        {
            return Variable(KeyVariable) ?? throw new NotUnderstoodException($"No key: set {KeyVariable} in the environment, or name a file with --key-file.");
        }

        if (!File.Exists(file))
        {
            throw new NotUnderstoodException($"There is no key file {file}.");
        }

        if (!OperatingSystem.IsWindows() && (File.GetUnixFileMode(file) & ~(UnixFileMode.UserRead | UnixFileMode.UserWrite)) != UnixFileMode.None)
        {
            throw new NotUnderstoodException($"Others may read the key file {file}. Restrict it first: chmod 600 {file}");
        }

        return File.ReadAllText(file).Trim() is { Length: > 0 } key ? key : throw new NotUnderstoodException($"The key file {file} is empty.");
    }

    private static IAnsiConsole NewScreen(TextWriter output)
    {
        var screen = AnsiConsole.Create(new() { Out = new AnsiConsoleOutput(output) });
        if (Console.IsOutputRedirected || !ReferenceEquals(output, Console.Out))
        {
            // No screen has a width there, and a cell that is cut off is of no use to a script.
            screen.Profile.Width = 400;
        }

        return screen;
    }

    /// <summary>A client for these settings.</summary>
    public TraceabilityClient Client(TerminalSettings settings, int triesMax = 3, int timeoutSeconds = 5) => new(
        new() { Address = settings.Service(this), Key = Key(settings.KeyFile), TriesMax = triesMax, TryTimeout = TimeSpan.FromSeconds(settings.TimeoutSeconds ?? timeoutSeconds) }, Time);

    /// <summary>Makes a file of an answer. One that is there is never written over: it may be what somebody acted on.</summary>
    public static async Task WriteNewAsync(string file, ReadOnlyMemory<byte> content, CancellationToken cancellation)
    {
        RequireNew(file);
        try
        {
            var stream = new FileStream(file, FileMode.CreateNew, FileAccess.Write);
            await using (stream.ConfigureAwait(false))
            {
                await stream.WriteAsync(content, cancellation).ConfigureAwait(false);
            }
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new NotUnderstoodException($"{file} can't be written: {e.Message}");
        }
    }

    /// <summary>Looks before a long question is asked.</summary>
    public static void RequireNew(string? file)
    {
        if (File.Exists(file))
        {
            throw new NotUnderstoodException($"There is a file {file} already. Name another one.");
        }
    }

    /// <summary>The outbox for these settings; what was found damaged is said each time until somebody has acknowledged it.</summary>
    public async Task<FactOutbox> OutboxAsync(TerminalSettings settings)
    {
        var outbox = await FactOutbox.OpenAsync(new() { Folder = settings.OutboxFolder(this) }, Time).ConfigureAwait(false);
        if (outbox.Damage is { } damage)
        {
            Say("THE OUTBOX WAS DAMAGED. " + Sentences.Of(damage));
        }

        return outbox;
    }
}

/// <summary>What was typed, or a file, is not understood; the message is for the person who typed it.</summary>
internal sealed class NotUnderstoodException(string message) : Exception(message);
