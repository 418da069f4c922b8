using System.Globalization;

namespace Traceability.Postgres;

/// <summary>The system user that runs the server: this one, or, since PostgreSQL refuses root, another one.</summary>
internal sealed record ServerAccount(int User, int Group, bool IsSelf)
{
    /// <summary>Decides who runs the server on the cluster folder, which need not exist yet.</summary>
    internal static async Task<ServerAccount> ChooseAsync(string cluster, string systemUser, CancellationToken cancellation)
    {
        var self = await NumberAsync(["id", "-u"], cancellation).ConfigureAwait(false);
        var owner = Directory.Exists(cluster)
            ? await NumberAsync(["stat", "-c", "%u", cluster], cancellation).ConfigureAwait(false)
            : (int?)null;
        if (self != 0)
        {
            return owner is null || owner == self
                ? new ServerAccount(self, await NumberAsync(["id", "-g"], cancellation).ConfigureAwait(false), IsSelf: true)
                : throw new EmbeddedPostgresException(string.Create(
                    CultureInfo.InvariantCulture,
                    $"{cluster} belongs to system user {owner}, and this process is user {self}. Start the service as the user who made it (or as root), or name another data folder."));
        }

        if (owner is > 0)
        {
            var group = await NumberAsync(["stat", "-c", "%g", cluster], cancellation).ConfigureAwait(false);
            return new ServerAccount(owner.Value, group, IsSelf: false);
        }

        var exists = await Unix.RunAsync(["id", "-u", systemUser], cancellation).ConfigureAwait(false);
        if (exists.ExitCode != 0)
        {
            throw new EmbeddedPostgresException(
                $"PostgreSQL does not run as root, and there is no system user \"{systemUser}\" to run it. "
                + "Debian's package makes one (apt-get install postgresql); or start the service as an ordinary user.");
        }

        return new ServerAccount(
            await NumberAsync(["id", "-u", systemUser], cancellation).ConfigureAwait(false),
            await NumberAsync(["id", "-g", systemUser], cancellation).ConfigureAwait(false),
            IsSelf: false);
    }

    /// <summary>The command that runs a command as this account.</summary>
    internal IReadOnlyList<string> Command(params IReadOnlyList<string> command) => IsSelf
        ? command
        : ["setpriv", Option("reuid", User), Option("regid", Group), "--clear-groups", "--", .. command];

    /// <summary>Makes a folder that only this account (and root) may enter.</summary>
    internal void MakePrivateFolder(string path)
    {
        Directory.CreateDirectory(path);
        TakePrivate(path);
    }

    /// <summary>Keeps an existing folder to this account (and root).</summary>
    internal void TakePrivate(string path)
    {
        Unix.SetMode(path, UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute);
        if (!IsSelf)
        {
            Unix.GiveTo(path, User, Group);
        }
    }

    /// <summary>Says which folder on the way keeps this account out, if one does.</summary>
    internal async Task RequireReachableAsync(string folder, CancellationToken cancellation)
    {
        if (IsSelf || await MayEnterAsync(folder, cancellation).ConfigureAwait(false))
        {
            return;
        }

        var barrier = folder;
        for (var parent = Path.GetDirectoryName(folder); parent is not null; parent = Path.GetDirectoryName(parent))
        {
            if (await MayEnterAsync(parent, cancellation).ConfigureAwait(false))
            {
                break;
            }

            barrier = parent;
        }

        throw new EmbeddedPostgresException(string.Create(
            CultureInfo.InvariantCulture,
            $"The data folder {folder} can't be reached by system user {User}, who runs PostgreSQL since this process is root: {barrier} keeps that user out. Allow it (chmod o+x {barrier}), or name another data folder, such as /var/lib/traceability."));
    }

    private async Task<bool> MayEnterAsync(string folder, CancellationToken cancellation) =>
        (await Unix.RunAsync(Command("test", "-x", folder), cancellation).ConfigureAwait(false)).ExitCode == 0;

    private static string Option(string name, int id) => string.Create(CultureInfo.InvariantCulture, $"--{name}={id}");

    private static async Task<int> NumberAsync(IReadOnlyList<string> command, CancellationToken cancellation)
    {
        var result = await Unix.RunAsync(command, cancellation).ConfigureAwait(false);
        return result.ExitCode == 0 && int.TryParse(result.Output.Trim(), NumberStyles.None, CultureInfo.InvariantCulture, out var number)
            ? number
            : throw new EmbeddedPostgresException($"\"{string.Join(' ', command)}\" failed: {result.Error.Trim()}");
    }
}
